"""Why not at another time: one day, in stretches, with what stands against a start in each."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from accounts.models import Instructor, Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.explain import Stretch
from bookings.domain.slots import Reason
from bookings.models import Offering
from bookings.pages.acting import acting_student, number, person
from bookings.pages.clocks import of_minutes
from bookings.pages.ribbon import local_day
from bookings.queries.explaining import why_nothing
from bookings.queries.teaching import instructors_for, zone_of_hours

MOST_INSTRUCTORS = 6
_FAR = timedelta(days=500)


@dataclass(frozen=True, slots=True)
class Told:
    """One instructor's day: each stretch with its sentences; none where a start can be had."""

    instructor: Instructor
    their_zone: str
    stretches: list[tuple[Stretch, list[str]]]


@login_required
@require_GET
def why(request: HttpRequest) -> HttpResponse:
    """Answers for the day, offering and instructor in the address; without an instructor for the first few who teach it."""
    student, now, asked = acting_student(request), clock.now(), request.GET
    offering = Offering.objects.filter(pk=number(asked.get("offering")), is_open=True).first()
    chosen = number(asked["instructor"]) if asked.get("instructor") else None
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
    is_own = student.user_id == person(request).pk
    told = [
        Told(
            one,
            zone_of_hours(one),
            [
                (each, [_words(reason, one, student, is_own) for reason in each.reasons])
                for each in stretches
            ],
        )
        for one, stretches in found
    ]
    page = {
        "student": student,
        "offering": offering,
        "on": on,
        "told": told,
        "others": max(0, len(people) - MOST_INSTRUCTORS),
    }
    return render(request, "why.html", page)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(
            "malformed", "This address holds no day. Choose one under Times that suit."
        ) from None


def _words(reason: Reason, instructor: Instructor, student: Student, is_own: bool) -> str:
    """A reason for a stretch: what the sentence for one start says, without that start."""
    numbers = reason.numbers
    said = {
        "past": "It has passed.",
        "outside-hours": f"{instructor} does not teach then, or not for {numbers.get('minutes')} minutes on end.",
        "taken": "Not free.",
        "own-clash": f"{'You have' if is_own else f'{student.first_name} has'} a meeting then.",
    }
    if reason.code == "minor-hours":
        opens, closes = (of_minutes(int(numbers[name])) for name in ("opens", "closes"))
        return f"Too early or too late for a student under age: {opens} to {closes} in {student.first_name}’s day."
    return said.get(reason.code, reason.refusal.detail)
