"""What a family says of a student's week: as stored, and as rows of the union of a student's time.

The union has two instants and two numbers in each row. Dates of terms stand in the columns of the
instants, as their midnights, and minutes in those of the numbers.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import F, QuerySet, Value

from accounts.models import Student
from bookings.domain.hours import DAY_MINUTES, WEEKDAYS
from bookings.domain.student_hours import SaidHours, UsualHours, WishedWindow, usual_hours
from bookings.domain.terms import Dates, TermDates
from bookings.domain.vocabulary import Wish
from bookings.domain.weekly_costs import Day, WeeklyCosts
from bookings.domain.zones import zone
from bookings.models import StudentHours, StudentWeek, Term, TermBreak
from bookings.queries.held_time import labelled


class Row(StrEnum):
    """The kinds of rows of a student's hours that are not a Wish."""

    CONFIRMED = "confirmed"
    UNCONFIRMED = "unconfirmed"
    TERM = "term"
    BREAK = "break"


def week_of(student: Student) -> StudentWeek:
    """The student's week; a new one, not stored, where nobody has said anything."""
    found = StudentWeek.objects.filter(student=student).prefetch_related("windows").first()
    return found or StudentWeek(student=student)


def said_in(week: StudentWeek, terms: Iterable[TermDates] = ()) -> SaidHours:
    """A stored week as the domain knows it."""
    windows = week.windows.all() if week.pk else ()
    return SaidHours(
        tuple(WishedWindow(row.weekday, row.opens, row.closes, Wish(row.wish)) for row in windows),
        week.school,
        not week.is_confirmed,
        tuple(terms),
    )


def presumed_for(week: StudentWeek, *, now: datetime) -> UsualHours | None:
    """The usual hours that count beside the week now; None for an adult and once confirmed."""
    today = now.astimezone(zone(week.student.zone)).date()
    return None if week.is_confirmed else usual_hours(week.student.adult_on, today)


def days_of(week: StudentWeek, *, now: datetime) -> list[Day]:
    """What each hour of a week costs, Monday first, as if there were school all week."""
    student = week.student
    today = now.astimezone(zone(student.zone)).date()
    monday = today - timedelta(days=today.weekday())
    dates = [monday + timedelta(days=ahead) for ahead in range(len(WEEKDAYS))]
    said = said_in(week, [TermDates(dates[0], dates[-1])])
    costs = WeeklyCosts(student.zone, student.adult_on, said)
    return [costs.of_day(on) for on in dates]


def rows_of_said(pk: int, first_on: date, last_on: date) -> list[QuerySet[Any, Any]]:
    """The parts of a union that hold a student's week and the terms of these days."""
    instants = F("week__changed_at"), F("week__changed_at")
    monday = F("weekday") * Value(DAY_MINUTES)
    minutes = monday + F("opens"), monday + F("closes")
    windows = StudentHours.objects.filter(week__student=pk)
    week = F("changed_at"), F("changed_at"), F("school_opens"), F("school_closes")
    weeks = StudentWeek.objects.filter(student=pk)
    terms = Term.objects.filter(first_on__lte=last_on, last_on__gte=first_on)
    breaks = TermBreak.objects.filter(first_on__lte=last_on, last_on__gte=first_on)
    dates = F("first_on"), F("last_on")
    return [
        windows.order_by().values_list("wish", *instants, *minutes),
        labelled(weeks.filter(is_confirmed=True), Row.CONFIRMED, *week),
        labelled(weeks.filter(is_confirmed=False), Row.UNCONFIRMED, *week),
        labelled(terms, Row.TERM, *dates, F("pk"), F("pk")),
        labelled(breaks, Row.BREAK, *dates, F("term_id"), F("pk")),
    ]


def said_of(rows: Iterable[tuple[Any, ...]]) -> SaidHours:
    """What the rows of `rows_of_said` say, among any others."""
    windows: list[WishedWindow] = []
    school, is_presumed = None, True
    terms: dict[int, Dates] = {}
    breaks: dict[int, list[Dates]] = defaultdict(list)
    for kind, first, last, number, other in rows:
        if kind == Row.TERM:
            terms[number] = first.date(), last.date()
        elif kind == Row.BREAK:
            breaks[number].append((first.date(), last.date()))
        elif kind in (Row.CONFIRMED, Row.UNCONFIRMED):
            is_presumed = kind == Row.UNCONFIRMED
            school = None if number is None else (number, other)
        elif kind in _WISHES:
            weekday, opens = divmod(number, DAY_MINUTES)
            closes = other - weekday * DAY_MINUTES
            windows.append(WishedWindow(weekday, opens, closes, Wish(kind)))
    windows.sort(key=lambda window: (window.weekday, window.opens))
    dated = (TermDates(*terms[pk], tuple(breaks[pk])) for pk in sorted(terms))
    return SaidHours(tuple(windows), school, is_presumed, tuple(dated))


_WISHES = frozenset(wish.value for wish in Wish)
