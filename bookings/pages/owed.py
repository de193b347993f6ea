"""One owed lesson, for admins: give it more time, settle it, or carry it to another term."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_owed_lesson, require_admin
from bookings.domain.errors import Refused
from bookings.domain.owed import CAUSES
from bookings.domain.vocabulary import OwedCause
from bookings.door import write
from bookings.models import OwedLesson
from bookings.operations.owed import carry_out, extend_owed, settle_owed
from bookings.pages.forms.owed import CarryForm, ExtendForm, SettleForm
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.terms import all_terms

_ACTS: dict[str, tuple[Callable[..., OwedLesson], str]] = {
    "extend": (extend_owed, "Saved. The family gets an email."),
    "settle": (settle_owed, "Settled. The family gets an email."),
    "carry": (carry_out, "Carried to the other term. The family gets an email."),
}


@login_required
@require_http_methods(["GET", "POST"])
def owed_lesson(request: HttpRequest, owed_id: int) -> HttpResponse:
    """GET shows what may be decided; POST decides one of the three."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    owed = access_owed_lesson(user, owed_id, now=now)
    chosen = request.POST.get("then", "")
    said = _forms(request, owed, chosen)
    if chosen not in _ACTS or not said[chosen].is_valid():
        return _page(request, owed, said)
    act, told = _ACTS[chosen]
    version, values = read_version(request), dict(said[chosen].cleaned_data)
    values.pop("sure", None)
    try:
        write(lambda: act(actor=user, owed=owed, version=version, now=now, **values), now=now)
    except Refused as refusal:
        return _page(request, access_owed_lesson(user, owed_id, now=now), said, refusal)
    messages.success(request, told)
    if owed.term_id is None:
        return redirect(f"{reverse('my-lessons')}?student={owed.student_id}")
    return redirect("term-account", term_id=owed.term_id, student_id=owed.student_id)


def _forms(request: HttpRequest, owed: OwedLesson, chosen: str) -> dict[str, forms.Form]:
    """The three forms; only the chosen one is bound to what was sent."""

    def sent(name: str) -> Any:
        return request.POST if name == chosen else None

    terms = [term for term in all_terms() if term.pk != owed.term_id]
    found: dict[str, forms.Form] = {
        "extend": ExtendForm(sent("extend"), initial={"use_by": owed.use_by}, prefix=None),
        "settle": SettleForm(sent("settle")),
        "carry": CarryForm(sent("carry"), terms=terms),
    }
    for name, form in found.items():
        form.auto_id = f"id_{name}_%s"
    return found


def _page(
    request: HttpRequest,
    owed: OwedLesson,
    said: dict[str, forms.Form],
    refusal: Refused | None = None,
) -> HttpResponse:
    is_open = not owed.is_closed and not owed.make_ups.all()
    context = {
        "owed": owed,
        "student": owed.student,
        "cause": CAUSES[OwedCause(owed.cause)],
        "is_open": is_open,
        "may_carry": bool(said["carry"].fields["term"].choices),  # type: ignore[attr-defined]
        "may_extend": is_open or owed.closed_how == "lapsed",
        "forms": said,
        "form": next((form for form in said.values() if form.errors), None),
        "refusal": refusal,
    }
    return show(request, "levare/owed_lesson.html", context)
