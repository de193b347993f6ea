"""The students of an instructor, or of the school for an admin, and where each of them stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import BooleanField, Case, Exists, OuterRef, Q, QuerySet, Subquery, When

from accounts.models import Instructor, Student, User
from bookings.access import (
    is_program,
    name_for,
    named_like,
    notes_of_instructor,
    require_admin,
    students_listed,
)
from bookings.domain.due import Due, Progress, due
from bookings.domain.zones import zone
from bookings.models import (
    ONE_ON_ONE,
    Assessment,
    AssessmentQuerySet,
    Booking,
    BookingQuerySet,
)
from bookings.queries.guardians import minors

PAGE_OF = 40


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which students a list shows. `instructor` is whose they are, None for everybody's."""

    instructor: Instructor | None = None
    words: str = ""
    level: int | None = None
    minor: bool | None = None
    """True: minors alone; False: adults alone."""
    active: bool = True
    """False: those who have left the school, for admins."""
    without_next_lesson: bool | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A student as a list shows them to its reader.

    Lessons are those with the instructor whose list it is, or with anybody. Of `latest`, the latest
    released note, only date and author are shown. `note` is the one whose obstacle and follow-up
    date are shown: for admins the latest, for an instructor the latest they may read, None where
    they may read none. `due` is None for a student who is not due a review.
    """

    student: Student
    name: str
    last_at: datetime | None
    next_at: datetime | None
    next_booking_id: int | None
    may_move_next: bool
    """Whether the next one is a one-on-one, which its instructor may move."""
    latest: Assessment | None
    note: Assessment | None
    reader: User
    due: Due | None

    @property
    def is_latest_own(self) -> bool:
        """Whether the reader wrote the latest note."""
        return self.latest is not None and self.latest.author.user_id == self.reader.pk

    @property
    def has_obstacle(self) -> bool:
        """Whether the note names an obstacle."""
        return self.note is not None and bool(self.note.obstacle)

    @property
    def obstacle(self) -> str:
        """The obstacle in the note's words. Admins read only their own words here: to read
        another's note they give a reason first.
        """
        if self.note is None:
            return ""
        is_own = self.note.author.user_id == self.reader.pk
        return self.note.obstacle if is_own or not self.reader.is_staff else ""

    @property
    def follow_up_on(self) -> date | None:
        """The date by which the note asks to see the student again."""
        return self.note.follow_up_on if self.note else None


def students_wanted(reader: User, wanted: Wanted, *, now: datetime) -> QuerySet[Student]:
    """The students of the list, by name, for whom `access_list_of` let the reader in.

    Refused("not-allowed") where anybody but an admin asks for those who have left.
    """
    if not wanted.active:
        require_admin(reader)
    rows = students_listed(wanted.instructor, active=wanted.active, now=now)
    rows = rows.select_related("regular_instructor__user")
    if wanted.words:
        rows = rows.filter(named_like(reader, wanted.words, now=now))
    if wanted.level is not None:
        rows = rows.filter(level=wanted.level)
    if wanted.minor is not None:
        are_minors = minors(now)
        rows = rows.filter(are_minors if wanted.minor else ~are_minors)
    if wanted.without_next_lesson is not None:
        has_next = Exists(_lessons(wanted.instructor).ahead(now))
        rows = rows.filter(~has_next if wanted.without_next_lesson else has_next)
    return rows


def due_among(
    rows: QuerySet[Student], reader: User, instructor: Instructor | None, *, now: datetime
) -> list[Due]:
    """Those of these students who are due a review, the most pressing first: one query."""
    stood = _standing(rows, reader, instructor, now)
    # Whoever has a lesson ahead and no follow-up date is never due. They are most of a large
    # school, and reading them takes longer than leaving them out.
    stood = stood.filter(Q(next_at__isnull=True) | Q(follow_up_on__isnull=False))
    return due([_progress(reader, one) for one in stood], _today(reader, now))


def reviews_due(instructor: Instructor, *, now: datetime) -> int:
    """How many of the instructor's students are due a review: one query."""
    own = students_wanted(instructor.user, Wanted(instructor=instructor), now=now)
    return len(due_among(own, instructor.user, instructor, now=now))


def students_by_id(ids: Sequence[int]) -> list[Student]:
    """These students, in this order: one query."""
    rows = Student.objects.select_related("user", "regular_instructor__user")
    found = rows.in_bulk(ids)
    return [found[pk] for pk in ids if pk in found]


def entries(
    students: Sequence[Student], reader: User, instructor: Instructor | None, *, now: datetime
) -> list[Entry]:
    """These students as the reader's list shows them, in their order: two queries."""
    rows = Student.objects.filter(pk__in=[student.pk for student in students])
    ahead = _lessons(instructor).ahead(now).order_by("starts_at", "pk")
    more = {
        "note_id": Subquery(_note_read(reader, instructor, now).values("pk")[:1]),
        "next_id": Subquery(ahead.values("pk")[:1]),
        "next_kind": Subquery(ahead.values("meeting__offering__kind")[:1]),
        "latest_id": Subquery(_latest(Assessment.objects.released()).values("pk")[:1]),
    }
    stood = {one["pk"]: one for one in _standing(rows, reader, instructor, now, **more)}
    named = {one[key] for one in stood.values() for key in ("note_id", "latest_id")}
    notes = Assessment.objects.select_related("author__user").in_bulk(named - {None})
    return [_entry(student, stood[student.pk], notes, reader, now) for student in students]


def _entry(
    student: Student,
    stood: dict[str, Any],
    notes: dict[int, Assessment],
    reader: User,
    now: datetime,
) -> Entry:
    return Entry(
        student=student,
        name=name_for(reader, student, now),
        last_at=stood["last_at"],
        next_at=stood["next_at"],
        next_booking_id=stood["next_id"],
        may_move_next=stood["next_kind"] in ONE_ON_ONE,
        latest=notes.get(stood["latest_id"]),
        note=notes.get(stood["note_id"]),
        reader=reader,
        due=next(iter(due([_progress(reader, stood)], _today(reader, now))), None),
    )


def _standing(
    rows: QuerySet[Student],
    reader: User,
    instructor: Instructor | None,
    now: datetime,
    **more: Subquery,
) -> QuerySet[Student, Any]:
    """What the order of a review depends on, and `more`, for each of these students."""
    ahead = _lessons(instructor).ahead(now).order_by("starts_at", "pk")
    seen = _lessons(instructor).seen(now).order_by("-starts_at", "-pk")
    note = _note_read(reader, instructor, now)
    has_obstacle = Case(When(obstacle="", then=False), default=True, output_field=BooleanField())
    values: dict[str, Any] = {
        "last_at": Subquery(seen.values("starts_at")[:1]),
        "next_at": Subquery(ahead.values("starts_at")[:1]),
        "follow_up_on": Subquery(note.values("follow_up_on")[:1]),
        "has_obstacle": Subquery(note.values(says=has_obstacle)[:1]),
        **more,
    }
    return rows.values("pk", **values)


def _note_read(reader: User, instructor: Instructor | None, now: datetime) -> AssessmentQuerySet:
    """The notes about the student of an outer query that an instructor may read, the latest first;
    every released one for an admin, and none for a program.
    """
    if is_program(reader):
        return Assessment.objects.none()
    if reader.is_staff:
        return _latest(Assessment.objects.released())
    return _latest(notes_of_instructor(instructor, now=now))


def _lessons(instructor: Instructor | None) -> BookingQuerySet:
    """Places that the student of an outer query holds with this instructor, or with anybody."""
    held = Booking.objects.held().filter(student=OuterRef("pk"))
    return held if instructor is None else held.taught_by(instructor)


def _latest(notes: AssessmentQuerySet) -> AssessmentQuerySet:
    """Of these notes those about the student of an outer query, the latest first."""
    return notes.filter(student=OuterRef("pk")).order_by("-released_at", "-id")


def _progress(reader: User, stood: dict[str, Any]) -> Progress:
    clock = zone(reader.zone)
    last_on, next_on = (
        at and at.astimezone(clock).date() for at in (stood["last_at"], stood["next_at"])
    )
    return Progress(
        stood["pk"], last_on, next_on, stood["follow_up_on"], bool(stood["has_obstacle"])
    )


def _today(reader: User, now: datetime) -> date:
    return now.astimezone(zone(reader.zone)).date()
