"""The studio policy: an admin adds a new version. Bookings keep the one they were made under."""

from dataclasses import asdict
from datetime import datetime

from accounts.models import User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.policy_rules import check_in_force, check_policy
from bookings.models import StudioPolicy
from bookings.operations.audit import record
from bookings.queries.policies import newest_policy


def new_policy(
    *,
    actor: User,
    rules: Policy,
    in_force_from: datetime | None = None,
    seen: int | None = None,
    now: datetime,
) -> StudioPolicy:
    """The next version, in force from that instant, or at once for None.

    `seen` is the newest version that the admin was shown, 0 for none. Refused: "not-allowed",
    "stale" where another version has been added, as `check_in_force` and as `check_policy`.
    """
    require_admin(actor)
    check_policy(rules)
    check_in_force(in_force_from, now)
    newest = _newest_locked()
    if seen is not None and seen != newest:
        raise Refused(
            "stale",
            "Another version of the studio policy has been added since you read it. Read it, "
            "then decide.",
        )
    policy = StudioPolicy.objects.create(
        version=newest + 1, in_force_from=in_force_from or now, **asdict(rules)
    )
    record(actor=actor, verb="made", thing=policy, now=now)
    return policy


def _newest_locked() -> int:
    """The number of the newest version; 0 for none, when only the guard keeps a second one out."""
    list(StudioPolicy.objects.select_for_update(no_key=True).order_by("-version")[:1])
    newest = newest_policy()  # read again: the lock may have waited for a newer one
    return newest.version if newest else 0
