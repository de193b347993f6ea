"""Today: who is next, what the day looks like, what waits."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from accounts.models import User
from bookings import clock
from bookings.access import name_for, require_instructor
from bookings.domain.local_days import overlap
from bookings.domain.news import counted
from bookings.domain.timeline import FIRST_ON, LAST_ON, Period
from bookings.domain.zones import zone
from bookings.models import Meeting
from bookings.pages.clock_changes import clock_changes
from bookings.pages.day_strip import Block, Strip, fitting, hours_of, rests_of, stretch_of
from bookings.pages.durations import length_of, until
from bookings.pages.parameters import read_day
from bookings.pages.ribbon import local_day
from bookings.pages.signed_in import user_of
from bookings.queries.today import Entry, Today, today_of

_DAY = timedelta(days=1)


@login_required
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """The instructor's day on their account's clock; any other day with `?on=`."""
    user, now = user_of(request), clock.now()
    instructor, on = require_instructor(user), day_asked(request, now)
    found = today_of(instructor, on, now=now)
    rows = [row_of(entry, found, user, now) for entry in found.entries]
    is_today = on == local_date(user, now)
    tomorrow = [row_of(entry, found, user, now, on=on + _DAY) for entry in found.tomorrow]
    context = {
        "on": on,
        "is_today": is_today,
        "to_do": found.to_do,
        "reviews_due": found.reviews_due,
        "lacks_hours": not found.has_hours,
        "lacks_room": not instructor.room,
        "rows": rows,
        "sum": _sum(found),
        "told": clock_changes(local_day(on, found.time_zone), None),
        "nearest": _nearest([*rows, *tomorrow], now) if is_today else [],
        "strip": _strip(found, rows, now),
        "tomorrow_on": on + _DAY,
        "tomorrow": tomorrow,
        "can_clear": any(entry.meeting.starts_at > now for entry in found.entries),
        "has_briefs": any(entry.held for entry in found.entries),
        "before": on - _DAY if on > FIRST_ON else None,
        "after": on + _DAY if on < LAST_ON else None,
    }
    return render(request, "levare/today.html", context)


def local_date(user: User, now: datetime) -> date:
    """The date on the person's account clock."""
    return now.astimezone(zone(user.zone)).date()


def day_asked(request: HttpRequest, now: datetime) -> date:
    """The day that the address names, else today on the person's clock."""
    named = request.GET.get("on")
    return read_day(named) if named else local_date(user_of(request), now)


def row_of(
    entry: Entry, found: Today, user: User, now: datetime, *, on: date | None = None
) -> dict[str, Any]:
    """A meeting as its instructor reads it on the day `on`, which is the page's unless given."""
    meeting, here, on = entry.meeting, found.time_zone, on or found.on
    people = [
        {"booking": booking, "name": name_for(user, booking.student, now)}
        for booking in entry.bookings
    ]
    is_one_on_one = meeting.offering.is_one_on_one
    title = meeting.title or meeting.offering.name
    return {
        "meeting": meeting,
        "people": people,
        "is_one_on_one": is_one_on_one,
        "called": people[0]["name"] if is_one_on_one and people else title,
        "held": len(entry.held),
        "news": entry.news,
        "question": _first_question(entry) if is_one_on_one else "",
        "starts": _other_day(meeting.starts_at, on, here),
        "ends": _other_day(meeting.ends_at, on, here),
        "is_over": meeting.ends_at <= now,
        "wrap_up": _wrap_up(entry, now),
        "is_wrapped_up": meeting.ends_at <= now and not meeting.is_to_wrap_up,
        "to_mark": meeting.starts_at <= now and bool(entry.unmarked),
        "unmarked": len(entry.unmarked),
        "address": _address(meeting, entry),
    }


def _wrap_up(entry: Entry, now: datetime) -> str:
    """Where a meeting that has begun is wrapped up; empty before, and where nobody is in it."""
    if entry.meeting.starts_at > now or not entry.held:
        return ""
    if entry.meeting.offering.is_one_on_one:
        return reverse("wrap-up", args=[entry.held[0].pk])
    return reverse("wrap-up-group", args=[entry.meeting.pk])


def _first_question(entry: Entry) -> str:
    """The student's most pressing question, else nothing."""
    intakes = [getattr(booking, "intake", None) for booking in entry.held]
    return next((row.questions[0] for row in intakes if row and row.questions), "")


def _other_day(instant: datetime, on: date, here: str) -> str:
    """The weekday of an instant that is not on that date, else nothing."""
    local = instant.astimezone(zone(here))
    return f"{local:%A}" if local.date() != on else ""


def _address(meeting: Meeting, entry: Entry) -> str:
    """Where a meeting's block leads: to the brief of a one-on-one, else to the roster."""
    if meeting.offering.is_one_on_one and entry.held:
        return reverse("brief", args=[entry.held[0].pk])
    return reverse("meeting", args=[meeting.pk])


def _sum(found: Today) -> str:
    """ "Seven meetings, 3 hours 50 minutes of teaching."; only what lies in the day counts."""
    if not found.entries:
        return "No meetings."
    parts = [overlap(_period(entry.meeting), found.period) for entry in found.entries]
    minutes = sum(part.minutes for part in parts if part)
    number = counted(len(found.entries), "meeting").capitalize()
    return f"{number}, {length_of(minutes)} of teaching."


def _nearest(rows: Sequence[dict[str, Any]], now: datetime) -> list[dict[str, Any]]:
    """The meeting that runs now and the next one, each with when, in words."""
    by_id = {row["meeting"].pk: row for row in reversed(rows)}  # across midnight: today's row
    rows = sorted(by_id.values(), key=lambda row: row["meeting"].starts_at)
    running = [row for row in rows if row["meeting"].starts_at <= now < row["meeting"].ends_at]
    ahead = [row for row in rows if row["meeting"].starts_at > now]
    return [{**row, "when": "now"} for row in running] + [
        {**row, "when": until(row["meeting"].starts_at, now)} for row in ahead[:1]
    ]


def _strip(found: Today, rows: Sequence[dict[str, Any]], now: datetime) -> Strip | None:
    meetings = [_period(row["meeting"]) for row in rows]
    hours = [window for window in found.teaching if any(map(window.overlaps, meetings))]
    shown = [*hours, *meetings] if meetings else found.teaching
    stretch = stretch_of(found.period, shown, found.time_zone)
    if stretch is None:
        return None
    bands = [stretch.band(period) for period in meetings]
    return Strip(
        hours=hours_of(stretch, found.time_zone),
        teaching=[band for band in map(stretch.band, found.teaching) if band],
        blocks=[
            Block(band, fitting(_word(row), band), row["called"], row["address"], row["is_over"])
            for band, row in zip(bands, rows, strict=True)
            if band
        ],
        rests=rests_of(stretch, meetings),
        now=stretch.x(now) if stretch.period.starts_at <= now < stretch.period.ends_at else "",
    )


def _word(row: dict[str, Any]) -> str:
    """What is written on a block: the student's first name, or the size of the group."""
    if not row["is_one_on_one"]:
        return f"Group, {row['held']}"
    return row["people"][0]["booking"].student.first_name if row["people"] else ""


def _period(meeting: Meeting) -> Period:
    return Period(meeting.starts_at, meeting.ends_at)
