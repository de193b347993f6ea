"""Which meetings ahead the installed zone rules would move, and what they would then lie on."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from bookings.domain.retiming import Clash, Mover, Shifted, packed, shifted, tangles
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import LIVE, Booking, Meeting
from bookings.queries.teaching import REACH

AT_ONCE = 100
"""How many meetings one transaction moves, unless more of them get in each other's way."""


@dataclass(frozen=True, slots=True)
class Retiming:
    """What is to be done: the meetings that move or fall into a gap, in batches of one transaction each, and those that stay."""

    changes: dict[int, tuple[Meeting, Shifted]]
    batches: list[list[int]]
    unmoved: list[int]


@dataclass(frozen=True, slots=True)
class Clashes:
    """What a meeting lies on: words for the meeting, and the bookings whose student is elsewhere at that time."""

    why: tuple[Clash, ...] = ()
    bookings: frozenset[int] = frozenset()


def out_of_date(now: datetime) -> QuerySet[Meeting]:
    """Live meetings ahead whose instants another version of tzdata derived."""
    return (
        Meeting.objects.exclude(status=MeetingStatus.CANCELLED)
        .filter(starts_at__gt=now)
        .exclude(tzdata_version=TZDATA_VERSION)
    )


def is_due(now: datetime) -> bool:
    """Whether any meeting ahead was derived by another version of tzdata than the installed one: one query."""
    return out_of_date(now).exists()


def shift_of(meeting: Meeting) -> Shifted:
    """How far the installed rules take it."""
    return shifted(
        datetime.combine(meeting.wall_on, meeting.wall_at),
        meeting.fold,
        meeting.zone,
        meeting.starts_at,
    )


def plan(now: datetime) -> Retiming:
    """Every live meeting ahead that another version of tzdata derived, by what the installed one makes of it."""
    changes: dict[int, tuple[Meeting, Shifted]] = {}
    unmoved = []
    rows = (
        out_of_date(now).select_related("offering", "instructor__user").order_by("starts_at", "pk")
    )
    for meeting in rows.iterator(chunk_size=2000):
        shift = shift_of(meeting)
        if shift.moves or shift.is_gap:
            changes[meeting.pk] = meeting, shift
        else:
            unmoved.append(meeting.pk)
    batches = packed(tangles(_movers(list(changes.values()))), AT_ONCE)
    return Retiming(changes, [[mover.key for mover in batch] for batch in batches], unmoved)


def _movers(moves: list[tuple[Meeting, Shifted]]) -> list[Mover]:
    """The same for the pure core: whose time each takes, and the weekly place whose readers are told of all its lessons at once."""
    learners = _people_in([meeting.pk for meeting, _ in moves])
    return [
        Mover(
            meeting.pk,
            Period(meeting.starts_at, meeting.held_until),
            Period(meeting.starts_at + shift.by, meeting.held_until + shift.by),
            frozenset({("user", meeting.instructor.user_id), *learners[meeting.pk]}),
            meeting.weekly_place_id,
        )
        for meeting, shift in moves
    ]


def clashes(moves: Iterable[tuple[Meeting, Shifted]]) -> dict[int, Clashes]:
    """What each of these meetings lies on once they have all moved; two queries. Meetings that are flagged count as any other.

    A person's time is her own: what she teaches, changeover included, and what she is held in as a student.
    """
    moving = {meeting.pk: (meeting, shift) for meeting, shift in moves}
    if not moving:
        return {}
    held = {
        pk: Period(meeting.starts_at + shift.by, meeting.held_until + shift.by)
        for pk, (meeting, shift) in moving.items()
    }
    there = {
        pk: Period(meeting.starts_at + shift.by, meeting.ends_at + shift.by)
        for pk, (meeting, shift) in moving.items()
    }
    teaching = {pk: ("user", meeting.instructor.user_id) for pk, (meeting, _) in moving.items()}
    rows = Booking.objects.filter(meeting__in=moving, standing=Standing.HELD).order_by("pk")
    learning = [
        (booking, pk, who_learns(user, student))
        for booking, pk, user, student in rows.values_list(
            "pk", "meeting_id", "student__user_id", "student_id"
        )
    ]
    taken: dict[tuple[str, int], list[tuple[Period, int]]] = defaultdict(list)
    for pk, person in teaching.items():
        taken[person].append((held[pk], pk))
    for _, pk, person in learning:
        taken[person].append((there[pk], pk))
    since, until = (
        min(period.starts_at for period in held.values()),
        max(period.ends_at for period in held.values()),
    )
    for person, period, pk in _elsewhere(set(taken), since, until, list(moving)):
        taken[person].append((period, pk))

    def is_elsewhere(person: tuple[str, int], period: Period, pk: int) -> bool:
        return any(other != pk and period.overlaps(stretch) for stretch, other in taken[person])

    found = {}
    for pk, (_, shift) in moving.items():
        torn = frozenset(
            booking
            for booking, of, person in learning
            if of == pk and is_elsewhere(person, there[pk], pk)
        )
        teaches = is_elsewhere(teaching[pk], held[pk], pk)
        found[pk] = Clashes(
            (
                *[Clash.INSTRUCTOR] * teaches,
                *[Clash.STUDENT] * bool(torn),
                *[Clash.GAP] * shift.is_gap,
            ),
            torn,
        )
    return found


def _elsewhere(
    people: set[tuple[str, int]], since: datetime, until: datetime, ignoring: list[int]
) -> Iterator[tuple[tuple[str, int], Period, int]]:
    """What else takes these people's time around [since, until): what they teach, and what they are held in."""
    users = [pk for kind, pk in people if kind == "user"]
    students = [pk for kind, pk in people if kind == "student"]
    near = Q(starts_at__lt=until, starts_at__gt=since - REACH)
    taught = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).exclude(pk__in=ignoring)
    for user, starts_at, held_until, pk in taught.filter(
        near, instructor__user__in=users
    ).values_list("instructor__user_id", "starts_at", "held_until", "pk"):
        yield ("user", user), Period(starts_at, held_until), pk
    held = Booking.objects.filter(
        near, Q(student__user__in=users) | Q(student__in=students), standing=Standing.HELD
    )
    for user, student, starts_at, ends_at, pk in held.exclude(meeting__in=ignoring).values_list(
        "student__user_id", "student_id", "starts_at", "ends_at", "meeting_id"
    ):
        yield who_learns(user, student), Period(starts_at, ends_at), pk


def _people_in(meetings: list[int]) -> dict[int, set[tuple[str, int]]]:
    people: dict[int, set[tuple[str, int]]] = defaultdict(set)
    for first in range(0, len(meetings), 1000):
        rows = Booking.objects.filter(meeting__in=meetings[first : first + 1000], standing__in=LIVE)
        for meeting_id, student_id, user_id in rows.values_list(
            "meeting_id", "student_id", "student__user_id"
        ):
            people[meeting_id].add(who_learns(user_id, student_id))
    return people


def who_learns(user_id: int | None, student_id: int) -> tuple[str, int]:
    """One person under one name, whether she teaches or learns; a student without an account can only learn."""
    return ("student", student_id) if user_id is None else ("user", user_id)
