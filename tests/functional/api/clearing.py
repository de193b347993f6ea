"""Clearing hours through the API."""

from tests.functional.api.client import Api, Reply
from tests.functional.api.world import World


def clears(world: World, on: str, **decided: int) -> Reply:
    """An instructor clears an hour of that day in which nothing stands."""
    decisions = [{**decided, "remedy": "call-off"}] if decided else []
    hour = {"starts_at": f"{on}T05:00:00Z", "ends_at": f"{on}T06:00:00Z"}
    return Api(world.school.ilse.user).post("cleared-hours/", {**hour, "decisions": decisions})
