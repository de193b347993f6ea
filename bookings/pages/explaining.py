"""Why not at another time: one day in stretches, each with the reasons against its starts."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from accounts.models import Instructor, Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.explain import Stretch
from bookings.domain.slots import Reason
from bookings.pages.parameters import read_id
from bookings.pages.ribbon import local_day
from bookings.pages.signed_in import acting_student, user_of
from bookings.pages.templatetags.formatting import minute_as_time
from bookings.queries.explaining import why_nothing
from bookings.queries.offerings import open_offering
from bookings.queries.student_hours import said_in, week_of
from bookings.queries.teaching import instructors_for, zone_of_hours

MOST_INSTRUCTORS = 6
_FAR = timedelta(days=500)
_DECIDING = ("past", "too-soon", "too-far", "outside-hours")
"""What nobody's other plans could change; the first one speaks alone."""


@dataclass(frozen=True, slots=True)
class ToldStretch:
    """Starts in [since, until) and the sentences against them; none if they can be booked."""

    since: datetime
    until: datetime
    words: list[str]
    is_between: bool
    """Whether no start falls there, and nothing else stands against it."""

    @property
    def is_open(self) -> bool:
        """Whether it is shown as one with its neighbours that can be booked."""
        return self.is_between or not self.words


@dataclass(frozen=True, slots=True)
class Told:
    """One instructor's day, told once for each stretch."""

    instructor: Instructor
    their_zone: str
    stretches: list[ToldStretch]


@login_required
@require_GET
def why(request: HttpRequest) -> HttpResponse:
    """Explains one day of an offering, for the instructor in the address or the first few."""
    student, now, asked = acting_student(request), clock.now(), request.GET
    offering = open_offering(read_id(asked.get("offering")))
    chosen = read_id(asked["instructor"]) if asked.get("instructor") else None
    people = (
        instructors_for(offering, student.level, chosen)
        if offering and offering.is_one_on_one
        else []
    )
    people = [one for one in people if one.user_id != student.user_id]
    if offering is None or not people:
        raise Refused(
            "not-found", "This is not offered. Choose what and with whom under Times that suit."
        )
    on = _day(asked.get("on", ""))
    if abs(on - now.date()) > _FAR:
        raise Refused("not-found", "That day is too far away. Choose one under Times that suit.")
    day = local_day(on, student.zone).period
    found = why_nothing(
        offering=offering, student=student, people=people[:MOST_INSTRUCTORS], day=day, now=now
    )
    is_own = student.user_id == user_of(request).pk
    told = [
        Told(one, zone_of_hours(one), _merged(stretches, one, student, is_own))
        for one, stretches in found
    ]
    context = {
        "student": student,
        "offering": offering,
        "on": on,
        "told": told,
        "has_never": said_in(week_of(student)).has_never,
        "others": max(0, len(people) - MOST_INSTRUCTORS),
    }
    return render(request, "levare/why.html", context)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(
            "malformed", "This link does not name a day. Choose one under Times that suit."
        ) from None


def _merged(
    stretches: list[Stretch], instructor: Instructor, student: Student, is_own: bool
) -> list[ToldStretch]:
    """The stretches in words. Neighbours with the same words become one."""
    rows: list[ToldStretch] = []
    for stretch in stretches:
        words = [
            _words(reason, instructor, student, is_own) for reason in _deciding(stretch.reasons)
        ]
        row = ToldStretch(
            stretch.since, stretch.until, list(dict.fromkeys(words)), _is_between(stretch)
        )
        if rows and (rows[-1].words == row.words or (rows[-1].is_open and row.is_open)):
            before = rows.pop()
            row = replace(before if not before.words else row, since=before.since, until=row.until)
        rows.append(row)
    return rows


def _is_between(stretch: Stretch) -> bool:
    """Whether the only reason is that no start of the grid falls into the stretch."""
    return {reason.code for reason in stretch.reasons} == {"off-grid"}


def _deciding(reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """The reason that makes all others unimportant, else all of them."""
    return next(
        ((reason,) for code in _DECIDING for reason in reasons if reason.code == code), reasons
    )


def _words(reason: Reason, instructor: Instructor, student: Student, is_own: bool) -> str:
    """The sentence of a reason about a whole stretch; it names no start."""
    numbers = reason.numbers
    minutes = numbers.get("minutes")
    has = "You have" if is_own else f"{student.first_name} has"
    said = {
        "past": "It has passed.",
        "outside-hours": f"{instructor} does not teach then, or not for {minutes} minutes"
        " without a break.",
        "taken": "Not free.",
        "own-clash": f"{has} a lesson or meeting then.",
    }
    if reason.code == "minor-hours":
        opens, closes = (minute_as_time(int(numbers[name])) for name in ("opens", "closes"))
        day = f"{opens} to {closes} in {student.first_name}’s day"
        return f"Too early or too late for a student under 18: {day}."
    return said.get(reason.code, reason.refusal.detail)
