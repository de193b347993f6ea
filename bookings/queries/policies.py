"""The versions of the studio policy."""

from datetime import datetime

from bookings.domain.errors import Refused
from bookings.models import StudioPolicy


def policy_in_force(now: datetime) -> StudioPolicy:
    """The newest version whose day has come; Refused("invalid") where the school has none yet."""
    found = StudioPolicy.objects.filter(in_force_from__lte=now).order_by("-version").first()
    if found is None:
        raise Refused(
            "invalid", "The school has no studio policy yet: an admin adds the first version."
        )
    return found


def newest_policy() -> StudioPolicy | None:
    """The version added last, in force or not yet."""
    return StudioPolicy.objects.order_by("-version").first()
