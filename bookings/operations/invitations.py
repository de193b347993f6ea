"""Invitations that are open no more: withdrawn by an admin, or void because another took their place."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User, Welcome
from bookings import outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.operations.audit import record


def withdraw_invitation(*, actor: User, welcome: Welcome, now: datetime) -> Welcome:
    """The mailed address opens nothing any more. Refused("already-ended") where it was used, has lapsed or is void."""
    require_admin(actor)
    rows = Welcome.objects.filter(pk=welcome.pk)
    list(rows.select_for_update(no_key=True).values_list("pk"))
    if not open_invitations(now).filter(pk=welcome.pk).exists():
        raise Refused("already-ended", "This invitation is no longer open.")
    void(rows, now=now)
    record(actor=actor, verb="withdrew invitation", thing=welcome, fields=["good_until"], now=now)
    return rows.get()


def open_invitations(now: datetime) -> QuerySet[Welcome]:
    """Those that still let somebody in, the newest first."""
    return Welcome.objects.filter(used_at__isnull=True, good_until__gt=now)


def void(rows: QuerySet[Welcome], *, now: datetime) -> None:
    """They open nothing any more, and what has not left yet never will."""
    for pk in list(rows.values_list("pk", flat=True)):
        outbox.withdraw_form(f"welcome:{pk}")
    rows.update(good_until=now)
