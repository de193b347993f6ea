"""The versions of the studio policy."""

from datetime import datetime

from django.db.models import QuerySet

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.models import StudioPolicy


def policy_in_force(now: datetime) -> StudioPolicy:
    """The newest version whose day has come; Refused("invalid") where the school has none yet."""
    found = policy_then(now)
    if found is None:
        raise Refused(
            "invalid", "The school has no studio policy yet: an admin adds the first version."
        )
    return found


def newest_policy() -> StudioPolicy | None:
    """The version added last, in force or not yet."""
    return StudioPolicy.objects.order_by("-version").first()


def all_policies() -> list[StudioPolicy]:
    """Every version, the newest first."""
    return list(versions())


def versions() -> QuerySet[StudioPolicy]:
    """The same, to be read a page at a time."""
    return StudioPolicy.objects.order_by("-version")


def policy_then(now: datetime) -> StudioPolicy | None:
    """The version in force, None where the school has none yet."""
    return StudioPolicy.objects.filter(in_force_from__lte=now).order_by("-version").first()


def never_in_force(in_force_from: datetime) -> list[StudioPolicy]:
    """Versions ahead that a newer one in force from then overtakes: their day never counts."""
    return list(StudioPolicy.objects.filter(in_force_from__gt=in_force_from).order_by("version"))


def rules_then(now: datetime) -> Policy:
    """The rules in force, or the usual ones where the school has none yet."""
    found = policy_then(now)
    return found.rules() if found else Policy()
