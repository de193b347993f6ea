"""Who may join a group meeting, or wait for a place in it.

One rule for the operation and for the pages, which say the reason before anybody asks.
"""

from dataclasses import dataclass
from datetime import date, datetime

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy, check_minor, is_minor
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.domain.zones import zone


@dataclass(frozen=True, slots=True)
class Place:
    """A live place of the student: in which meeting, of what kind, held or offered, and when.

    A meeting that the student teaches has no kind. `id` and `answer_by` are the booking's.
    """

    meeting: int
    kind: PlaceKind | None
    standing: Standing
    period: Period
    id: int
    answer_by: datetime | None


@dataclass(frozen=True, slots=True)
class Joiner:
    """A student as these rules see them. `policy` is needed for a minor alone."""

    id: int
    first_name: str
    level: int
    time_zone: str
    adult_on: date | None
    is_here: bool
    has_consent: bool
    places: tuple[Place, ...]
    policy: Policy | None


@dataclass(frozen=True, slots=True)
class Joinable:
    """A meeting as these rules see it.

    `levels` are the lowest and the highest of its players. Listeners are of any level.
    """

    id: int
    instructor: str
    period: Period
    is_one_on_one: bool
    is_cancelled: bool
    players: int
    listeners: int
    levels: tuple[int, int]
    players_are_chosen: bool = False
    choice_is_closed: bool = False


def check_consent(student_id: int, first_name: str, *, is_here: bool, has_consent: bool) -> None:
    """Refused: "already-ended" for a student who has left, "consent-missing" for a minor.

    The second sets off one request to their guardians.
    """
    if not is_here:
        raise Refused(
            "already-ended", f"{first_name} has left the school, so nothing can be booked for them."
        )
    if not has_consent:
        raise Refused(
            "consent-missing",
            f"{first_name} is under 18 and no guardian’s consent is on file. "
            "We have emailed the guardian; you can book once it is given.",
            student=student_id,
        )


def check_joins(
    student: Joiner,
    meeting: Joinable,
    kind: PlaceKind,
    *,
    now: datetime,
    any_level: bool = False,
    clash: bool = True,
) -> None:
    """Refuses whoever may not take a place of that kind, or without `clash` not wait for one.

    Whether a place is free is not judged. An admin places students of `any_level`.
    """
    _check_open(meeting, now)
    check_consent(
        student.id, student.first_name, is_here=student.is_here, has_consent=student.has_consent
    )
    starts_on = meeting.period.starts_at.astimezone(zone(student.time_zone)).date()
    if student.policy is not None and is_minor(student.adult_on, starts_on):
        check_minor(meeting.period, student.time_zone, student.policy)
    if kind == PlaceKind.PLAYER and not any_level:
        _check_level(student, meeting)
    _check_not_in(student, meeting, kind)
    if (meeting.players if kind == PlaceKind.PLAYER else meeting.listeners) == 0:
        raise Refused("no-place", f"This meeting has no {kind.value} places.")
    if clash and any(_clashes(place, meeting) for place in student.places):
        raise Refused(
            "own-clash",
            f"{student.first_name} already has a lesson or meeting at that time: move or cancel "
            "it first.",
        )


def check_choice(meeting: Joinable, kind: PlaceKind, *, applies: bool) -> None:
    """Refused("players-chosen") where a family books a place that the school gives by choice.

    Whoever `applies` is let in until the choice is closed.
    """
    if kind != PlaceKind.PLAYER or not meeting.players_are_chosen:
        return
    if meeting.choice_is_closed:
        may_listen = " You can still book a place to listen." if meeting.listeners else ""
        raise Refused("players-chosen", f"The players have been chosen.{may_listen}")
    if not applies:
        raise Refused("players-chosen", "The school chooses the players here: apply for a place.")


def _check_open(meeting: Joinable, now: datetime) -> None:
    if meeting.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is booked by its time.")
    if meeting.is_cancelled:
        raise Refused("already-ended", "This meeting has been called off.")
    if meeting.period.starts_at <= now:
        raise Refused("past", "This meeting has begun.")


def _check_level(student: Joiner, meeting: Joinable) -> None:
    lowest, highest = meeting.levels
    if not lowest <= student.level <= highest:
        may_listen = "choose a listener place or " if meeting.listeners else "choose "
        raise Refused(
            "other-level",
            f"Players here are at {levels_in_words(meeting.levels)}, and {student.first_name} is "
            f"at level {student.level}: {may_listen}another meeting.",
        )


def levels_in_words(levels: tuple[int, int]) -> str:
    """ "level 4", "levels 3 to 10"."""
    lowest, highest = levels
    return f"level {lowest}" if lowest == highest else f"levels {lowest} to {highest}"


def _check_not_in(student: Joiner, meeting: Joinable, kind: PlaceKind) -> None:
    for place in student.places:
        plays = place.kind == PlaceKind.PLAYER and place.standing == Standing.HELD
        if place.meeting == meeting.id and (place.kind == kind or plays):
            raise Refused(
                "already-booked", f"{student.first_name} already has a place in this meeting."
            )


def _clashes(place: Place, meeting: Joinable) -> bool:
    return (
        place.standing == Standing.HELD
        and place.meeting != meeting.id
        and place.period.starts_at < meeting.period.ends_at
        and meeting.period.starts_at < place.period.ends_at
    )
