"""How the pages that ask for a plan send their forms."""

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.http import HttpRequest

from bookings import clock
from bookings.domain.errors import Refused
from bookings.models import Plan
from bookings.operations.plans import ask_for_plan
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.sent_once import write_once
from bookings.pages.signed_in import user_of


def ask_with(
    request: HttpRequest,
    form: forms.Form,
    wanted: Callable[[], dict[str, Any]],
    fields: Mapping[str, str] | None = None,
) -> tuple[Plan | None, Refused | None]:
    """Asks for the plan of a form that was sent and is valid. Returns the plan; else the refusal,
    unless it is said at a field of the form.

    `wanted` gives what `ask_for_plan` takes. `fields` is as for `is_said_at_field`.
    """
    if request.method != "POST" or not form.is_valid():
        return None, None
    user, now = user_of(request), clock.now()
    try:
        values = wanted()
        made = write_once(request, lambda: ask_for_plan(actor=user, now=now, **values), now=now)
    except Refused as refusal:
        return None, None if is_said_at_field(form, refusal, fields) else refusal
    return made, None
