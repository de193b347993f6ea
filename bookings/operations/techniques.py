"""The techniques that notes of an offering look at: an admin replaces the list."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.techniques import checked_names
from bookings.models import Offering, Technique
from bookings.operations.audit import record
from bookings.queries.techniques import own_techniques, techniques_of


def replace_techniques(
    *,
    actor: User,
    offering: Offering,
    names: Sequence[str],
    seen: Sequence[str] | None = None,
    now: datetime,
) -> list[str]:
    """Gives the offering this list of techniques, in this order. Notes keep what they say.

    `seen` is the list that the admin was shown. Refused: "not-allowed", "stale" where the list is
    another by now, "invalid" as domain.techniques.checked_names.
    """
    require_admin(actor)
    locked = Offering.objects.select_for_update(no_key=True).get(pk=offering.pk)
    if seen is not None and list(seen) != techniques_of(locked):
        raise Refused("stale", "The list has changed since you read it. Read it again.")
    wanted = checked_names(names)
    if wanted == own_techniques(locked):
        return wanted
    locked.techniques.all().delete()
    Technique.objects.bulk_create(
        Technique(offering=locked, name=name, position=place) for place, name in enumerate(wanted)
    )
    record(actor=actor, verb="changed", thing=locked, fields=["techniques"], now=now)
    return wanted
