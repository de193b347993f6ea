"""The meetings ahead that the installed zone rules move, and what they would then clash with."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from bookings.domain.retiming import Clash, Mover, Shifted, packed, shifted, tangles
from bookings.domain.timeline import Period
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Meeting
from bookings.queries.held_time import REACH

Person = tuple[str, int]
"""("user", id) of an account, or ("student", id) of a student without one."""
AT_ONCE = 100
"""How many meetings one transaction moves, unless a larger group has to move together."""


@dataclass(frozen=True, slots=True)
class Retiming:
    """What to do with meetings ahead: `changes` move or fall into a gap, `unmoved` stay.

    Each of the `batches` is moved in one transaction.
    """

    changes: dict[int, tuple[Meeting, Shifted]]
    batches: list[list[int]]
    unmoved: list[int]


@dataclass(frozen=True, slots=True)
class Clashes:
    """The kinds of clash, and the bookings whose student is elsewhere at that time."""

    why: tuple[Clash, ...] = ()
    bookings: frozenset[int] = frozenset()


def out_of_date(now: datetime) -> QuerySet[Meeting]:
    """Live meetings ahead whose instants another version of tzdata derived."""
    return Meeting.objects.not_called_off().ahead(now).exclude(tzdata_version=TZDATA_VERSION)


def is_due(now: datetime) -> bool:
    """Whether another version of tzdata than the installed one derived any meeting ahead.

    One query.
    """
    return out_of_date(now).exists()


def shift_of(meeting: Meeting) -> Shifted:
    """How far the installed rules move the meeting."""
    return shifted(
        datetime.combine(meeting.wall_on, meeting.wall_at),
        meeting.fold,
        meeting.zone,
        meeting.starts_at,
    )


def plan(now: datetime) -> Retiming:
    """Meetings ahead that another version of tzdata derived, by what the installed rules change."""
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
    """The meetings as movers.

    All lessons of a weekly place belong together: their readers are told of them at once.
    """
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
    """What each of these meetings clashes with once they have all moved; two queries.

    Flagged meetings count like any other. A person is taken by the meetings they teach, changeover
    included, and by those they are in as a student.
    """
    moved = [_Moved(meeting, shift) for meeting, shift in moves]
    if not moved:
        return {}
    learners = _learners(moved)
    diary = _diary(moved, learners)
    return {one.pk: _clashes_of(one, learners[one.pk], diary) for one in moved}


class _Moved:
    """A meeting at its new time; `held` includes the changeover."""

    def __init__(self, meeting: Meeting, shift: Shifted) -> None:
        self.pk = meeting.pk
        self.is_gap = shift.is_gap
        self.instructor: Person = ("user", meeting.instructor.user_id)
        self.held = Period(meeting.starts_at + shift.by, meeting.held_until + shift.by)
        self.lesson = Period(meeting.starts_at + shift.by, meeting.ends_at + shift.by)


class _Diary:
    """What takes each person's time: periods with the meeting they are of."""

    def __init__(self) -> None:
        self._taken: dict[Person, list[tuple[Period, int]]] = defaultdict(list)

    def add(self, person: Person, period: Period, meeting_id: int) -> None:
        self._taken[person].append((period, meeting_id))

    def people(self) -> set[Person]:
        return set(self._taken)

    def is_elsewhere(self, person: Person, period: Period, meeting_id: int) -> bool:
        """Whether another meeting than this one takes the person's time in the period."""
        return any(
            other != meeting_id and period.overlaps(taken) for taken, other in self._taken[person]
        )


def _learners(moved: Iterable[_Moved]) -> dict[int, list[tuple[int, Person]]]:
    """For each meeting its held bookings, as (booking id, who learns)."""
    rows = Booking.objects.in_meetings([one.pk for one in moved]).held().order_by("pk")
    found: dict[int, list[tuple[int, Person]]] = defaultdict(list)
    for booking_id, meeting_id, user_id, student_id in rows.values_list(
        "pk", "meeting_id", "student__user_id", "student_id"
    ):
        found[meeting_id].append((booking_id, who_learns(user_id, student_id)))
    return found


def _diary(moved: Sequence[_Moved], learners: Mapping[int, list[tuple[int, Person]]]) -> _Diary:
    """The moved meetings at their new times, and all else that takes the same people's time."""
    diary = _Diary()
    for one in moved:
        diary.add(one.instructor, one.held, one.pk)
        for _, person in learners.get(one.pk, ()):
            diary.add(person, one.lesson, one.pk)
    since = min(one.held.starts_at for one in moved)
    until = max(one.held.ends_at for one in moved)
    ignoring = [one.pk for one in moved]
    for person, period, meeting_id in list(_elsewhere(diary.people(), since, until, ignoring)):
        diary.add(person, period, meeting_id)
    return diary


def _clashes_of(one: _Moved, learners: Iterable[tuple[int, Person]], diary: _Diary) -> Clashes:
    torn = frozenset(
        booking_id
        for booking_id, person in learners
        if diary.is_elsewhere(person, one.lesson, one.pk)
    )
    why = []
    if diary.is_elsewhere(one.instructor, one.held, one.pk):
        why.append(Clash.INSTRUCTOR)
    if torn:
        why.append(Clash.STUDENT)
    if one.is_gap:
        why.append(Clash.GAP)
    return Clashes(tuple(why), torn)


def _elsewhere(
    people: set[Person], since: datetime, until: datetime, ignoring: list[int]
) -> Iterator[tuple[Person, Period, int]]:
    """Other meetings that take these people's time around [since, until).

    Rows of (person, period, meeting id).
    """
    users = [pk for kind, pk in people if kind == "user"]
    students = [pk for kind, pk in people if kind == "student"]
    near = Q(starts_at__lt=until, starts_at__gt=since - REACH)
    taught = Meeting.objects.holding_time().exclude(pk__in=ignoring)
    for user, starts_at, held_until, pk in taught.filter(
        near, instructor__user__in=users
    ).values_list("instructor__user_id", "starts_at", "held_until", "pk"):
        yield ("user", user), Period(starts_at, held_until), pk
    held = Booking.objects.held().filter(near, Q(student__user__in=users) | Q(student__in=students))
    for user, student, starts_at, ends_at, pk in held.exclude(meeting__in=ignoring).values_list(
        "student__user_id", "student_id", "starts_at", "ends_at", "meeting_id"
    ):
        yield who_learns(user, student), Period(starts_at, ends_at), pk


def _people_in(meetings: list[int]) -> dict[int, set[Person]]:
    people: dict[int, set[Person]] = defaultdict(set)
    for first in range(0, len(meetings), 1000):
        rows = Booking.objects.in_meetings(meetings[first : first + 1000]).live()
        for meeting_id, student_id, user_id in rows.values_list(
            "meeting_id", "student_id", "student__user_id"
        ):
            people[meeting_id].add(who_learns(user_id, student_id))
    return people


def who_learns(user_id: int | None, student_id: int) -> Person:
    """The key of the person who learns: their account, or the student if they have none."""
    return ("student", student_id) if user_id is None else ("user", user_id)
