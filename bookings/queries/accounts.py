"""The accounts of a term, in a fixed number of queries however many students they are of."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum

from accounts.models import Student, User
from bookings import access
from bookings.domain.accounts import Account, Lesson, Link, Owed, account_of
from bookings.domain.owed import LessonEnd
from bookings.domain.vocabulary import Attendance, Ended, Kind, OwedCause, OwedClosed
from bookings.models import Booking, BookingQuerySet, OwedLesson, Term, WeeklyPlace

PAGE_OF = 40


@dataclass(frozen=True, slots=True)
class TermAccount:
    """One student's account of a term, with the rows behind its numbers by id."""

    student: Student
    term: Term
    account: Account
    bookings: Mapping[int, Booking]
    owed: Mapping[int, OwedLesson]
    carried_to: Mapping[int, Term]
    """The term to which an owed lesson was carried, by the lesson's id."""


def account_in(student: Student, term: Term, *, now: datetime) -> TermAccount:
    """The account of one student."""
    (found,) = accounts_in(term, [student], now=now)
    return found


def accounts_in(term: Term, students: Sequence[Student], *, now: datetime) -> list[TermAccount]:
    """The accounts of these students, in their order: six queries."""
    ids = [student.pk for student in students]
    promised = _promised(term, ids)
    bookings, owed = _by_student(_bookings(ids)), _by_student(_owed(ids))
    earlier, carried_to = _earlier_terms(term), _carried_to(owed)
    return [
        _account(
            student, term, earlier, promised.get(student.pk, 0), bookings[student.pk],
            owed[student.pk], carried_to, now,
        )
        for student in students
    ]  # fmt: skip


def students_with_account(
    term: Term, reader: User, *, words: str = "", now: datetime
) -> QuerySet[Student]:
    """The students who have an account of the term, by name: those with a weekly place, an owed
    lesson or a single lesson in it. An admin reads of all, others of their own students.
    """
    of_student = {"student": OuterRef("pk")}
    places = WeeklyPlace.objects.filter(term=term, **of_student)
    owed = OwedLesson.objects.filter(term=term, **of_student)
    single = _single(Booking.objects.filter(**of_student)).filter(
        meeting__wall_on__gte=term.first_on, meeting__wall_on__lte=term.last_on
    )
    rows = Student.objects.filter(Q(Exists(places)) | Q(Exists(owed)) | Q(Exists(single)))
    if not reader.is_staff:
        rows = rows.filter(pk__in=[one.pk for one in access.own_students(reader, now=now)])
    if words:
        rows = rows.filter(access.named_like(reader, words, now=now))
    return rows.select_related("user").order_by("own_name", "user__name", "pk")


def _promised(term: Term, students: Iterable[int]) -> dict[int, int]:
    places = WeeklyPlace.objects.filter(term=term, student__in=students).order_by()
    return dict(places.values_list("student").annotate(Sum("promised")))


def _single(rows: BookingQuerySet) -> BookingQuerySet:
    """Single private lessons that were agreed to."""
    return rows.not_proposed().filter(
        meeting__offering__kind=Kind.PRIVATE_LESSON,
        meeting__weekly_place__isnull=True,
        makes_up__isnull=True,
    )


def _bookings(students: Sequence[int]) -> BookingQuerySet:
    """Every private lesson and make-up of these students: a chain may reach beyond its term."""
    rows = Booking.objects.not_proposed().filter(student__in=students)
    lessons = rows.filter(
        Q(meeting__offering__kind=Kind.PRIVATE_LESSON) | Q(makes_up__isnull=False)
    )
    return lessons.select_related(
        "mark", "meeting__weekly_place", "meeting__offering", "meeting__instructor__user"
    ).order_by("starts_at", "pk")


def _owed(students: Sequence[int]) -> QuerySet[OwedLesson]:
    return OwedLesson.objects.filter(student__in=students).select_related("offering")


def _carried_to(owed: Mapping[int, Sequence[OwedLesson]]) -> dict[int, Term]:
    """To which term each of these was carried: one query.

    What an owed lesson was carried to is another one of the same student. It is not joined: SQLite
    would look through all owed lessons for each of them.
    """
    carried = {
        row.carried_from_id: row.term_id
        for rows in owed.values()
        for row in rows
        if row.carried_from_id is not None and row.term_id is not None
    }
    terms = Term.objects.in_bulk(set(carried.values()))
    return {pk: terms[term] for pk, term in carried.items()}


def _by_student(rows: QuerySet[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.student_id].append(row)
    return found


def _earlier_terms(term: Term) -> list[tuple[date, date]]:
    """The dates of the terms that count a single lesson before this one does."""
    rows = Term.objects.filter(last_on__gte=term.first_on, first_on__lte=term.last_on)
    before = Q(first_on__lt=term.first_on) | Q(first_on=term.first_on, name__lt=term.name)
    return list(rows.filter(before).values_list("first_on", "last_on"))


def _account(
    student: Student,
    term: Term,
    earlier: Sequence[tuple[date, date]],
    promised: int,
    bookings: Sequence[Booking],
    owed: Sequence[OwedLesson],
    carried_to: Mapping[int, Term],
    now: datetime,
) -> TermAccount:
    lessons = {row.pk: _lesson(row) for row in bookings}
    links = {row.pk: _link(row) for row in owed}
    roots: list[Link] = [lessons[row.pk] for row in bookings if _begins(row, term, earlier)]
    roots += [links[row.pk] for row in owed if row.booking_id is None and row.term_id == term.pk]
    account = account_of(promised, roots, lessons.values(), links.values(), now=now)
    return TermAccount(
        student,
        term,
        account,
        bookings={row.pk: row for row in bookings},
        owed={row.pk: row for row in owed},
        carried_to=carried_to,
    )


def _begins(booking: Booking, term: Term, earlier: Sequence[tuple[date, date]]) -> bool:
    """Whether a chain of this term's account begins with this booking."""
    if booking.makes_up_id is not None:
        return False
    if booking.meeting.weekly_place is not None:
        return booking.meeting.weekly_place.term_id == term.pk
    on = booking.meeting.wall_on
    is_earlier = any(first_on <= on <= last_on for first_on, last_on in earlier)
    return term.first_on <= on <= term.last_on and not is_earlier


def _lesson(booking: Booking) -> Lesson:
    mark = getattr(booking, "mark", None)
    return Lesson(
        id=booking.pk,
        starts_at=booking.starts_at,
        end=LessonEnd(
            ends_at=booking.ends_at,
            ended=Ended(booking.ended_why) if booking.ended_why else None,
            attendance=Attendance(mark.attendance) if mark is not None else None,
            is_promised=booking.meeting.weekly_place_id is not None,
            is_make_up=booking.makes_up_id is not None,
        ),
        makes_up=booking.makes_up_id,
    )


def _link(owed: OwedLesson) -> Owed:
    return Owed(
        id=owed.pk,
        cause=OwedCause(owed.cause),
        booking=owed.booking_id,
        closed=OwedClosed(owed.closed_how) if owed.closed_how else None,
    )
