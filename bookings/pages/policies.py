"""The studio policy, for admins: what is in force, its versions, and a new one, shown before it is
saved.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.policy_rules import check_in_force, policy_in_full
from bookings.door import write
from bookings.operations.policies import new_policy
from bookings.pages.forms.policies import PolicyForm
from bookings.pages.signed_in import user_of
from bookings.queries.policies import all_policies, newest_policy
from bookings.queries.policy_effects import preview_of


@login_required
@require_GET
def policy(request: HttpRequest) -> HttpResponse:
    """The rules in force in sentences, and every version with its day."""
    require_admin(user_of(request))
    now, versions = clock.now(), all_policies()
    current = next((row for row in versions if row.in_force_from <= now), None)
    context = {
        "current": current,
        "rules": policy_in_full(current.rules()) if current else [],
        "versions": versions,
    }
    return render(request, "levare/policy.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """GET shows the newest version as typed. POST shows what a new one changes, then saves it.

    `act` says what a POST wants: "save" from the preview, "edit" back to the form, else a preview.
    """
    user, now = user_of(request), clock.now()
    require_admin(user)
    form, act = PolicyForm(request.POST, newest_policy()), request.POST.get("act", "")
    if request.method == "GET" or act == "edit" or not form.is_valid():
        return _form_page(request, form)
    typed = _Typed(form, form.in_force_from(now, user.zone))
    try:
        if act != "save":
            return _preview_page(request, typed, now)
        made = write(
            lambda: new_policy(
                actor=user,
                rules=form.rules(),
                in_force_from=typed.in_force_from,
                seen=form.cleaned_data["version"],
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _form_page(request, form, refusal)
    messages.success(request, f"Saved: version {made.version} of the studio policy.")
    return redirect("policy")


@dataclass(frozen=True, slots=True)
class _Typed:
    """A valid form, and the instant from which its rules are to be in force; None for at once."""

    form: PolicyForm
    in_force_from: datetime | None


def _form_page(
    request: HttpRequest, form: PolicyForm, refusal: Refused | None = None
) -> HttpResponse:
    is_wrong = form.is_bound and bool(form.errors) and request.POST.get("act") != "edit"
    status = refusal.status if refusal else 422 if is_wrong else 200
    context = {"form": form, "refusal": refusal, "newest": form.initial["version"]}
    return render(request, "levare/new_policy.html", context, status=status)


def _preview_page(request: HttpRequest, typed: _Typed, now: datetime) -> HttpResponse:
    """What the new version changes. Refused as `check_in_force`."""
    check_in_force(typed.in_force_from, now)
    since = typed.in_force_from or now
    context: dict[str, Any] = {
        "preview": preview_of(typed.form.rules(), since=since, now=now),
        "in_force_from": typed.in_force_from,
        "sent": [(name, typed.form.data.get(name, "")) for name in typed.form.fields],
    }
    return render(request, "levare/policy_preview.html", context)
