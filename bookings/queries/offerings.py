"""The bookable offerings, who teaches them, and the policy in words."""

from collections.abc import Iterable

from django.db.models import Prefetch, QuerySet

from accounts.models import Instructor
from bookings.domain.parties import OfferingRules
from bookings.domain.policy import Policy, changeover_minutes
from bookings.domain.vocabulary import Grid
from bookings.domain.wall import clock
from bookings.models import Offering, Teaches

_CLOCK_STEP = 30
"""Minutes between starts on the clock, for an offering that sets none."""


def offering_rules(offering: Offering, policy: Policy) -> OfferingRules:
    """The offering's length, changeover and grid, with the policy's defaults where it sets none."""
    changeover = offering.changeover_minutes
    if changeover is None:
        changeover = changeover_minutes(policy, offering.minutes)
    grid = Grid(offering.grid)
    step = offering.step_minutes
    if not step:
        step = _CLOCK_STEP if grid is Grid.CLOCK else offering.minutes + changeover
    return OfferingRules(
        minutes=offering.minutes, changeover_minutes=changeover, grid=grid, step_minutes=step
    )


def open_offerings() -> list[Offering]:
    """All that can be booked: one query."""
    return list(Offering.objects.bookable())


def open_offerings_with_teachers() -> list[Offering]:
    """Bookable offerings, each with `taught_by`: the instructors who teach it now; two queries."""
    teachers = (
        Teaches.objects.by_people_here()
        .select_related("instructor__user")
        .order_by("instructor__user__name")
    )
    return list(
        Offering.objects.bookable().prefetch_related(Prefetch("taught_by", queryset=teachers))
    )


def group_offerings() -> QuerySet[Offering]:
    """What a group meeting can be: open offerings that are no one-on-one."""
    return Offering.objects.bookable().for_groups()


def teaching_now() -> QuerySet[Instructor]:
    """Everybody who teaches here."""
    return Instructor.objects.teaching().select_related("user")


def open_offering(offering_id: int) -> Offering | None:
    """An offering that can be booked, by its id."""
    return Offering.objects.bookable().filter(pk=offering_id).first()


def shortest_minutes(offerings: Iterable[Offering], policy: Policy) -> int | None:
    """The shortest one-on-one of these with its changeover.

    A shorter gap is of no use to anybody.
    """
    return min(
        (
            offering_rules(offering, policy).held_minutes
            for offering in offerings
            if offering.is_one_on_one
        ),
        default=None,
    )


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
    ]


def _hours(minutes: int) -> str:
    return f"{minutes // 60} hours" if minutes % 60 == 0 else f"{minutes} minutes"
