"""What a school still lacks before its first lesson can be booked: one query beside the settings.

The page "Setting up" and `manage.py check_school` show the same list.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.conf import settings
from django.db.models import Count, Exists, OuterRef, QuerySet, Value

from accounts.models import Instructor, Student
from bookings.models import (
    ExtraHours,
    Offering,
    StudioPolicy,
    Teaches,
    TeachingHours,
    Technique,
    Term,
)


class Part(StrEnum):
    """What a school is made of, in the order in which it is set up."""

    SCHOOL = "school"
    POLICY = "policy"
    OFFERINGS = "offerings"
    TECHNIQUES = "techniques"
    INSTRUCTORS = "instructors"
    TEACHES = "teaches"
    ROOMS = "rooms"
    TERM = "term"
    HOURS = "hours"
    STUDENTS = "students"


@dataclass(frozen=True, slots=True)
class Step:
    """One part: whether it is there, and a sentence that says what to do or what is there.

    `also` says what is there only in part; empty where there is nothing to say.
    """

    part: Part
    title: str
    is_done: bool
    sentence: str
    also: str = ""


@dataclass(frozen=True, slots=True)
class _Counts:
    """How many of each. The `without` counts are of those who teach here, or of open offerings."""

    policies: int
    offerings: int
    untaught: int
    own_lists: int
    instructors: int
    without_room: int
    without_hours: int
    terms: int
    students: int


def steps(*, now: datetime) -> list[Step]:
    """Every part in order, done or missing; one query."""
    return list(_steps(_counted(now)))


def is_set_up(*, now: datetime) -> bool:
    """Whether nothing is missing; one query."""
    return all(step.is_done for step in steps(now=now))


def _steps(found: _Counts) -> Iterator[Step]:
    yield _school()
    yield from _of_offerings(found)
    yield from _of_instructors(found)
    yield Step(
        Part.STUDENTS,
        "Students",
        found.students > 0,
        "Add a student with their guardians, or bring many in from a file.",
    )


def _of_offerings(found: _Counts) -> Iterator[Step]:
    """What is booked: its rules, what there is, what notes look at."""
    yield Step(
        Part.POLICY,
        "Studio policy",
        found.policies > 0,
        "The rules of booking: how soon, how far ahead, until when one can cancel.",
    )
    yield Step(
        Part.OFFERINGS,
        "Offerings",
        found.offerings > 0,
        "What can be booked: its kind and length.",
    )
    yield Step(
        Part.TECHNIQUES,
        "Techniques",
        found.offerings > 0,
        "What notes look at. Each offering has the usual list until you write one.",
        f"With a list of their own: {found.own_lists} of {found.offerings}."
        if found.offerings
        else "",
    )


def _of_instructors(found: _Counts) -> Iterator[Step]:
    """Who teaches, what, where and when."""
    yield Step(
        Part.INSTRUCTORS,
        "Instructors",
        found.instructors > 0,
        "Invite who teaches. They join by the link in the email.",
    )
    yield Step(
        Part.TEACHES,
        "Who teaches what",
        found.untaught < found.offerings,
        "Who teaches each offering, from which level to which.",
        _lacking(
            found.untaught,
            "open offering",
            f"nobody to teach {'it' if found.untaught == 1 else 'them'}",
        ),
    )
    yield Step(
        Part.ROOMS,
        "Rooms",
        found.without_room < found.instructors,
        "Where each instructor’s lessons are held online. It is on the page of their hours.",
        _lacking(found.without_room, "instructor", "no room"),
    )
    yield Step(
        Part.TERM,
        "Term",
        found.terms > 0,
        "Dates and the number of lessons promised, for weekly places.",
    )
    yield Step(
        Part.HOURS,
        "Hours",
        found.without_hours < found.instructors,
        "When each instructor teaches. They write their own, or you do.",
        _lacking(found.without_hours, "instructor", "no hours"),
    )


def _lacking(count: int, thing: str, lacks: str) -> str:
    if not count:
        return ""
    return f"{count} {thing}{' has' if count == 1 else 's have'} {lacks}."


def _school() -> Step:
    """The name and the addresses are settings. Production has addresses of its own, or does not
    start; a school that is only tried out may keep the invented name.
    """
    return Step(
        Part.SCHOOL,
        "The school’s name and addresses",
        settings.SCHOOL_IS_NAMED or not settings.PRODUCTION,
        f"{settings.SCHOOL_NAME}; emails come from {settings.ORGANIZER_EMAIL}; pages are at "
        f"{settings.BASE_URL}. These are settings: whoever runs the server sets SCHOOL_NAME, "
        "ORGANIZER_EMAIL and BASE_URL.",
    )


def _counted(now: datetime) -> _Counts:
    here = Instructor.objects.teaching().filter(user__is_active=True)
    open_ones = Offering.objects.bookable()
    taught = Teaches.objects.by_people_here().filter(offering=OuterRef("pk"))
    weekly = TeachingHours.objects.filter(week__instructor=OuterRef("pk"))
    extra = ExtraHours.objects.filter(instructor=OuterRef("pk"), on__gte=now.date())
    policies = StudioPolicy.objects.filter(in_force_from__lte=now)
    rows = {
        "policies": policies,
        "offerings": open_ones,
        "untaught": open_ones.filter(~Exists(taught)),
        "own_lists": open_ones.filter(Exists(Technique.objects.filter(offering=OuterRef("pk")))),
        "instructors": here,
        "without_room": here.filter(room=""),
        "without_hours": here.filter(~Exists(weekly), ~Exists(extra)),
        "terms": Term.objects.filter(last_on__gte=now.date()),
        "students": Student.objects.filter(is_active=True),
    }
    # A union of counts: each part is one row of the same query.
    first, *others = [_count_of(name, found) for name, found in rows.items()]
    return _Counts(**dict.fromkeys(rows, 0) | dict(first.union(*others, all=True)))


def _count_of(name: str, rows: QuerySet[Any]) -> QuerySet[Any, Any]:
    counted = rows.order_by().values(part=Value(name)).annotate(count=Count("pk"))
    return counted.values_list("part", "count")
