"""What can be booked, who teaches it, and the rules in force in words."""

from django.db.models import Prefetch, QuerySet

from accounts.models import Instructor
from bookings.domain.policy import Policy
from bookings.domain.vocabulary import Kind
from bookings.models import Offering, Teaches


def open_offerings() -> list[Offering]:
    """Offerings that can be booked, each with `taught_by`: those who teach it now. Two queries."""
    teachers = (
        Teaches.objects.filter(instructor__is_active=True, instructor__user__is_active=True)
        .select_related("instructor__user")
        .order_by("instructor__user__name")
    )
    return list(
        Offering.objects.filter(is_open=True).prefetch_related(
            Prefetch("taught_by", queryset=teachers)
        )
    )


def group_offerings() -> QuerySet[Offering]:
    """What a group meeting can be: open offerings that are no one-on-one."""
    kinds = [kind.value for kind in Kind if not kind.is_one_on_one]
    return Offering.objects.filter(is_open=True, kind__in=kinds)


def teaching_now() -> QuerySet[Instructor]:
    """Everybody who teaches here."""
    return Instructor.objects.filter(is_active=True).select_related("user")


def open_offering(offering_id: int) -> Offering | None:
    """An offering that can be booked, by its id."""
    return Offering.objects.filter(pk=offering_id, is_open=True).first()


def policy_in_words(policy: Policy, *, one_on_one: bool) -> list[str]:
    """The rules that a student meets when she books, one sentence each."""
    words = [
        f"You can cancel free of charge until {_hours(policy.notice_minutes)} before the start.",
        f"A student under 18 is taught between {_clock(policy.minor_opens)} and {_clock(policy.minor_closes)} on their own clock.",
    ]
    if not one_on_one:
        return words
    return [
        f"Book at least {_hours(policy.lead_time_minutes)} and at most {policy.horizon_days} days ahead.",
        *words,
        f"Up to {policy.open_consultations} consultations can be booked at once.",
    ]


def _hours(minutes: int) -> str:
    return f"{minutes // 60} hours" if minutes % 60 == 0 else f"{minutes} minutes"


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02}:{minutes % 60:02}"
