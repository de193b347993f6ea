"""The levels for whose students a group meeting's player places are; listeners are of any level."""

from collections.abc import Iterable

from accounts.models import Instructor
from bookings.domain.errors import Refused
from bookings.domain.joining import levels_in_words
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, Offering, WaitingPlace
from bookings.queries.teaching import levels_taught

Band = tuple[int, int]
"""The lowest and the highest level, both included."""


def band_for(
    offering: Offering, instructor: Instructor, lowest: int | None, highest: int | None
) -> Band:
    """The band of a new meeting: what the instructor teaches where None is asked for.

    Refused: "invalid" where the lowest is above the highest, "not-taught" beyond what they teach.
    """
    taught = levels_taught(offering, instructor) or (1, 10)
    band = (taught[0] if lowest is None else lowest, taught[1] if highest is None else highest)
    _check_order(band)
    if not (taught[0] <= band[0] and band[1] <= taught[1]):
        raise Refused(
            "not-taught",
            f"{instructor} teaches {offering.name} at {levels_in_words(taught)}. "
            "Choose levels among these.",
        )
    return band


def changed_band(
    meeting: Meeting, players: Iterable[Booking], lowest: int | None, highest: int | None
) -> dict[str, int]:
    """The fields of the meeting's new band, by name; none where it stays as it is.

    Refused: as `band_for`, and "has-bookings" where it would exclude students who play, are offered
    a place or wait for one, and are within the band that the meeting has. Those whom an admin
    placed outside that band do not count.
    """
    old = (meeting.lowest_level, meeting.highest_level)
    asked = (old[0] if lowest is None else lowest, old[1] if highest is None else highest)
    if asked == old:
        return {}
    _check_order(asked)
    if not (old[0] <= asked[0] and asked[1] <= old[1]):
        band_for(meeting.offering, meeting.instructor, *asked)
    waiting = WaitingPlace.objects.for_meetings([meeting]).waiting().without_offer()
    waiting = waiting.filter(place_kind=PlaceKind.PLAYER)
    levels = [
        [row.student.level for row in players if row.place_kind == PlaceKind.PLAYER],
        [row.student.level for row in waiting.select_related("student")],
    ]
    playing, queued = (sum(_excludes(old, asked, level) for level in found) for found in levels)
    if playing or queued:
        raise Refused(
            "has-bookings",
            f"{playing} on the roster and {queued} on the waiting list are at other levels: "
            "choose levels that include them, or remove them first.",
            field="lowest_level" if asked[0] != old[0] else "highest_level",
        )
    return {"lowest_level": asked[0], "highest_level": asked[1]}


def _check_order(band: Band) -> None:
    if band[0] > band[1]:
        raise Refused(
            "invalid", "Choose a highest level that is not below the lowest.", field="highest_level"
        )


def _excludes(old: Band, new: Band, level: int) -> bool:
    """Whether the new band shuts out a level that the old one let in."""
    return old[0] <= level <= old[1] and not new[0] <= level <= new[1]
