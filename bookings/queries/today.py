"""An instructor's day: its meetings, what is new about each student, and what waits for them.

A fixed number of queries, whatever the day holds.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    BooleanField,
    Count,
    ExpressionWrapper,
    Max,
    OuterRef,
    Prefetch,
    Q,
    Subquery,
)

from accounts.models import Instructor
from bookings.access import notes_of_instructor
from bookings.domain.hours import window_periods
from bookings.domain.local_days import day_period
from bookings.domain.news import News, group_sentences, sentences_of
from bookings.domain.timeline import Horizon, Period
from bookings.domain.vocabulary import CAME, MeetingStatus, PlaceKind, Standing
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting, MeetingQuerySet
from bookings.queries.held_time import REACH
from bookings.queries.my_students import reviews_due
from bookings.queries.practice import days_practised
from bookings.queries.teaching import teaching_time
from bookings.queries.to_do import ToDo, is_to_wrap_up, to_do_for


@dataclass(frozen=True, slots=True)
class Entry:
    """One meeting of a day with its live bookings, in order of booking, and the news in it."""

    meeting: Meeting
    bookings: list[Booking]
    news: list[str] = field(default_factory=list)

    @property
    def held(self) -> list[Booking]:
        """The places that are a student's, offers left out."""
        return [booking for booking in self.bookings if booking.standing == Standing.HELD]

    @property
    def unmarked(self) -> list[Booking]:
        """Those in it without a mark in the register."""
        return [booking for booking in self.held if not hasattr(booking, "mark")]


@dataclass(frozen=True, slots=True)
class Today:
    """One date on the instructor's account clock, `time_zone`.

    A meeting across midnight is an entry of both its days. `teaching` are the published hours that
    touch the day, whole. `has_hours` is of any day.
    """

    on: date
    time_zone: str
    period: Period
    entries: list[Entry]
    tomorrow: list[Entry]
    teaching: tuple[Period, ...]
    has_hours: bool
    to_do: list[ToDo]
    reviews_due: int


@dataclass(frozen=True, slots=True)
class Met:
    """When students were last taught, before the day: by this instructor, and by whom last."""

    on_day: date
    seen_on: dict[int, date]
    taught_last: dict[int, str]
    practised: dict[int, int]


def today_of(instructor: Instructor, on: date, *, now: datetime) -> Today:
    """That date and the names of the next one: seven queries."""
    here = instructor.user.zone
    period, next_day = day_period(on, here), day_period(on + timedelta(days=1), here)
    both = _entries(instructor, Period(period.starts_at, next_day.ends_at), now)
    entries = _within(both, period)
    met = _met(instructor, entries, on, period, now)
    hours = teaching_time(instructor.pk)
    return Today(
        on=on,
        time_zone=here,
        period=period,
        entries=[Entry(row.meeting, row.bookings, _news(row, met)) for row in entries],
        tomorrow=_within(both, next_day),
        teaching=window_periods(hours, Horizon.spanning(period.starts_at, period.ends_at)),
        has_hours=bool(hours.weekly or hours.extra),
        to_do=to_do_for(instructor, now=now),
        reviews_due=reviews_due(instructor, now=now),
    )


def bookings_of_day(instructor: Instructor, on: date) -> list[Booking]:
    """The held player places in the meetings of that date on the instructor's account clock.

    By start, then in order of booking; each with its intake and its assessment. One query.
    """
    period = day_period(on, instructor.user.zone)
    rows = Booking.objects.with_details().select_related(
        "intake", "assessment__author__user", "assessment__student__user"
    )
    rows = rows.held().filter(meeting__instructor=instructor, place_kind=PlaceKind.PLAYER)
    rows = rows.exclude(meeting__status=MeetingStatus.CANCELLED).ending_after(period.starts_at)
    reached = rows.filter(starts_at__gt=period.starts_at - REACH, starts_at__lt=period.ends_at)
    return list(reached.order_by("starts_at", "meeting", "booked_at", "pk"))


def _news(entry: Entry, met: Met) -> list[str]:
    """What is new about the student of a one-on-one or a group, the most telling first."""
    meeting = entry.meeting
    if meeting.offering.is_one_on_one:
        facts = [_facts(meeting, booking, met) for booking in entry.held]
        return [told for news in facts for told in sentences_of(news)]
    players = [booking for booking in entry.held if booking.place_kind == PlaceKind.PLAYER]
    facts = [_facts(meeting, booking, met) for booking in players]
    return group_sentences(len(facts), [news for news in facts if news.has_written])


def _facts(meeting: Meeting, booking: Booking, met: Met) -> News:
    intake = getattr(booking, "intake", None)
    seen_on = met.seen_on.get(booking.student_id)
    return News(
        has_written=intake is not None,
        questions=len(intake.questions) if intake else 0,
        recordings=len(intake.recordings) if intake else 0,
        has_pieces=bool(intake and intake.pieces),
        hurts=bool(intake and intake.sealed_hurts),
        seen_days_ago=(met.on_day - seen_on).days if seen_on else None,
        comes_from=met.taught_last.get(booking.student_id, ""),
        practised_days=met.practised.get(booking.student_id),
        goal_due=booking.goal_on == met.on_day,
        lesson=_lesson(meeting),
    )


def _lesson(meeting: Meeting) -> tuple[int, int] | None:
    """Which lesson of its weekly place it is, and of how many."""
    if meeting.so_far is None or meeting.lessons is None:
        return None
    return meeting.so_far, meeting.lessons


def _entries(instructor: Instructor, period: Period, now: datetime) -> list[Entry]:
    """The meetings that touch the period, by start: two queries.

    Each knows which lesson it is of how many in its weekly place and whether it is still to be
    wrapped up, and each booking the day of the goal in the student's latest note that the
    instructor may read.
    """
    notes = notes_of_instructor(instructor, now=now).filter(student=OuterRef("student"))
    latest = notes.order_by("-released_at", "-pk").values("goal_on")[:1]
    goal: dict[str, Any] = {"goal_on": Subquery(latest)}
    live = (
        Booking.objects.live()
        .select_related("student__user", "intake", "mark")
        .annotate(**goal)
        .order_by("booked_at", "pk")
    )
    lessons = Meeting.objects.not_called_off().filter(weekly_place=OuterRef("weekly_place"))
    so_far = lessons.filter(starts_at__lte=OuterRef("starts_at"))
    known: dict[str, Any] = {
        "lessons": _number(lessons),
        "so_far": _number(so_far),
        "is_to_wrap_up": ExpressionWrapper(is_to_wrap_up(now), output_field=BooleanField()),
    }
    rows = (
        Meeting.objects.not_called_off()
        .taught_by(instructor)
        .ending_after(period.starts_at)
        .filter(starts_at__gt=period.starts_at - REACH, starts_at__lt=period.ends_at)
        .select_related("offering", "instructor__user")
        .annotate(**known)
        .prefetch_related(Prefetch("bookings", queryset=live, to_attr="live"))
    )
    return [Entry(meeting, meeting.live) for meeting in rows.order_by("starts_at", "pk")]


def _number(rows: MeetingQuerySet) -> Subquery:
    """How many of one weekly place, inside another query; None where a meeting is in none."""
    counted = rows.order_by().values("weekly_place").annotate(number=Count("pk"))
    return Subquery(counted.values("number"))


def _within(entries: Iterable[Entry], period: Period) -> list[Entry]:
    return [
        row
        for row in entries
        if period.overlaps(Period(row.meeting.starts_at, row.meeting.ends_at))
    ]


def _met(
    instructor: Instructor, entries: Sequence[Entry], on: date, period: Period, now: datetime
) -> Met:
    """Who of these students was taught before the day, and by whom, and practice: two queries.

    A meeting that the student missed does not count.
    """
    students = {booking.student_id for row in entries for booking in row.held}
    rows = (
        Booking.objects.held()
        .filter(Q(mark__isnull=True) | Q(mark__attendance__in=CAME))
        .filter(student__in=students, starts_at__lt=period.starts_at)
        .order_by()
        .values_list("student", "meeting__instructor", "meeting__instructor__user__name")
        .annotate(last=Max("starts_at"))
    )
    seen_on, taught_last = {}, {}
    for student, teacher, name, last in sorted(rows, key=lambda row: row[3]):
        if teacher == instructor.pk:
            seen_on[student] = last.astimezone(zone(instructor.user.zone)).date()
        taught_last[student] = name
    practised = days_practised(instructor, students, on, now=now)
    return Met(on, seen_on, taught_last, practised)
