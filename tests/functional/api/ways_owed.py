"""Requests about owed lessons that are refused."""

from collections.abc import Callable
from typing import Any

from tests.functional.api.client import Reply
from tests.functional.api.matrix_owed import carried_in
from tests.functional.api.ways import admin, twice
from tests.functional.api.world import World


def carries_in(world: World, **changes: Any) -> Reply:
    """A lesson owed from before, with these members changed."""
    return admin(world).post("owed-lessons/", {**carried_in(world), **changes})


def decides_about_owed(world: World, how: str, **more: Any) -> Reply:
    """An admin decides about an owed lesson."""
    path = f"owed-lessons/{world.owed.pk}/{how}"
    return admin(world).post(path, {"reason": "A long illness", **more}, match="*")


OWED_WAYS: dict[tuple[str, str, int], Callable[[World], Reply]] = {
    ("POST", "owed-lessons/", 404): lambda w: carries_in(w, term=999_999),
    ("POST", "owed-lessons/", 409): lambda w: carries_in(w, use_by="2027-02-01"),
    ("POST", "owed-lessons/<id:pk>/extend/", 409): lambda w: decides_about_owed(
        w, "extend/", use_by="2027-02-01"
    ),
    ("POST", "owed-lessons/<id:pk>/settle/", 409): lambda w: twice(
        lambda: decides_about_owed(w, "settle/")
    ),
    ("POST", "owed-lessons/<id:pk>/carry/", 409): lambda w: decides_about_owed(
        w, "carry/", term=w.next_term.pk, use_by="2027-02-01"
    ),
}
