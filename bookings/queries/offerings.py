"""The bookable offerings, who teaches them, and the policy in words."""

from datetime import datetime

from django.db.models import Prefetch, QuerySet

from accounts.models import Instructor
from bookings.domain.parties import OfferingRules
from bookings.domain.policy import Policy, changeover_minutes
from bookings.domain.vocabulary import Grid, Kind
from bookings.domain.wall import clock
from bookings.models import (
    Booking,
    Meeting,
    Offering,
    OwedLesson,
    Teaches,
    TeachesQuerySet,
    WeeklyPlace,
)

_CLOCK_STEP = 30
"""Minutes between starts on the clock, for an offering that sets none."""


def offering_rules(offering: Offering, policy: Policy) -> OfferingRules:
    """The offering's length, changeover and grid, with the policy's defaults where it sets none.

    A packed grid has no step but the one from a lesson to the next.
    """
    changeover = offering.changeover_minutes
    if changeover is None:
        changeover = changeover_minutes(policy, offering.minutes)
    grid = Grid(offering.grid)
    step = offering.step_minutes
    if not step or grid is Grid.PACKED:
        step = _CLOCK_STEP if grid is Grid.CLOCK else offering.minutes + changeover
    return OfferingRules(
        minutes=offering.minutes, changeover_minutes=changeover, grid=grid, step_minutes=step
    )


def offerings_with_teachers(*, is_open: bool) -> QuerySet[Offering]:
    """Offerings that can be booked, or those that are closed.

    Each comes with `taught_by`, the instructors who teach it now: two queries.
    """
    return Offering.objects.filter(is_open=is_open).prefetch_related(_teachers())


def all_offerings() -> list[Offering]:
    """Every offering, open or closed, by name, each with `taught_by` as above; two queries."""
    return list(Offering.objects.prefetch_related(_teachers()))


def offering_with_teachers(offering: Offering) -> Offering:
    """The same offering as it now stands, with `taught_by` as above; two queries."""
    return Offering.objects.prefetch_related(_teachers()).get(pk=offering.pk)


def has_been_booked(offering: Offering) -> bool:
    """Whether there is, or was, any meeting, weekly place or owed lesson of it."""
    return any(
        model._default_manager.filter(offering=offering).exists()
        for model in (Meeting, WeeklyPlace, OwedLesson)
    )


def lessons_outside_levels(
    offering: Offering, instructor: Instructor, levels: tuple[int, int] | None, now: datetime
) -> int:
    """How many places ahead of students outside these levels are held; None: of all students."""
    held = Booking.objects.held().ahead(now)
    held = held.filter(meeting__offering=offering, meeting__instructor=instructor)
    if levels is not None:
        held = held.exclude(student__level__range=levels)
    return held.count()


def taught_by(offering: Offering) -> TeachesQuerySet:
    """Who teaches the offering now, with their levels."""
    rows = Teaches.objects.by_people_here().filter(offering=offering)
    return rows.select_related("instructor__user")


def _teachers() -> "Prefetch[str]":
    rows = Teaches.objects.by_people_here().select_related("instructor__user")
    return Prefetch("taught_by", queryset=rows.order_by("instructor__user__name"))


def group_offerings() -> QuerySet[Offering]:
    """What a group meeting can be: open offerings that are no one-on-one."""
    return Offering.objects.bookable().for_groups()


def private_lessons() -> QuerySet[Offering]:
    """What a weekly place can be: open private lessons."""
    return Offering.objects.bookable().filter(kind=Kind.PRIVATE_LESSON)


def teaching_now() -> QuerySet[Instructor]:
    """Everybody who teaches here."""
    return Instructor.objects.teaching().select_related("user")


def open_offering(offering_id: int) -> Offering | None:
    """An offering that can be booked, by its id."""
    return Offering.objects.bookable().filter(pk=offering_id).first()


def policy_in_words(policy: Policy, *, one_on_one: bool) -> list[str]:
    """The policy's rules for a student who books, one sentence each."""
    words = [
        f"You can cancel free of charge until {_hours(policy.notice_minutes)} before the start.",
        f"A student under 18 is taught between {clock(policy.minor_opens)} and "
        f"{clock(policy.minor_closes)} on their own clock.",
    ]
    if not one_on_one:
        return words
    return [
        f"Book at least {_hours(policy.lead_time_minutes)} and at most {policy.horizon_days} days "
        "ahead.",
        *words,
        f"Up to {policy.open_consultations} consultations can be booked at once.",
        f"Lessons of a weekly place that you cancel in time can be made up, "
        f"{policy.make_ups_a_term} in a term, each within {policy.make_up_use_by_days} days.",
    ]


def _hours(minutes: int) -> str:
    return f"{minutes // 60} hours" if minutes % 60 == 0 else f"{minutes} minutes"
