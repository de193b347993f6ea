"""People: who belongs to the school, whom an admin invites, and one's own name and clock."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.invitations import invite, withdraw_invitation
from bookings.operations.people import change_me
from bookings.pages.acting import family, person
from bookings.pages.busy import section
from bookings.pages.context import ZONE_COOKIE, ZONE_KEPT
from bookings.pages.forms import InviteForm, MeForm
from bookings.queries.guardians import guardianships_of
from bookings.queries.people import everybody, one_invitation
from bookings.queries.undelivered import undelivered


@login_required
@require_http_methods(["GET", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """For admins: the list, and a form that sends an invitation."""
    require_admin(person(request))
    form, now = InviteForm(request.POST or None), clock.now()
    refusal = None
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        roles: dict[str, dict[str, Any]] = {
            "student": {"student": values["of"]},
            "guardian": {"guardian_of": values["of"]},
            "instructor": {"as_instructor": True},
            "admin": {"as_admin": True},
        }
        try:
            role = roles[values["role"]]
            write(
                lambda: invite(
                    actor=person(request),
                    email=values["email"],
                    name=values["name"],
                    now=now,
                    **role,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(
                request, f"Invited: {values['name']}. The link in the email works for two weeks."
            )
            return redirect("people")
    page = {
        "form": form,
        "refusal": refusal,
        "all": everybody(person(request), now=now),
        "undelivered": undelivered(now),
    }
    return render(
        request,
        "people.html",
        page,
        status=refusal.status if refusal else 422 if form.errors else 200,
    )


@login_required
@require_POST
def withdraw(request: HttpRequest, welcome_id: int) -> HttpResponse:
    """Withdraws an invitation, such as one to a mistyped address."""
    found, now = one_invitation(person(request), welcome_id), clock.now()
    try:
        write(lambda: withdraw_invitation(actor=person(request), welcome=found, now=now), now=now)
    except Refused as refusal:
        messages.error(request, refusal.detail)
    else:
        messages.success(request, f"Withdrawn: the invitation to {found.email}.")
    return redirect("people")


@login_required
@require_http_methods(["GET", "POST"])
def me(request: HttpRequest) -> HttpResponse:
    """One's own name and clock."""
    user, now = person(request), clock.now()
    form = MeForm(request.POST or None, initial={"name": user.name, "time_zone": user.zone})
    if request.method == "POST" and form.is_valid():
        write(lambda: change_me(actor=user, now=now, **form.cleaned_data), now=now)
        messages.success(request, "Saved. Every page is on this clock from now on.")
        return redirect("me")
    page = {
        "form": form,
        "busy_of_family": [section(student) for student in family(user)],
        "guardianships": guardianships_of(user),
    }
    return render(request, "me.html", page, status=422 if form.errors else 200)


@login_required
@require_POST
def answer_zone(request: HttpRequest) -> HttpResponse:
    """Which clock to use: the browser's, or the account's as before."""
    chosen, now = request.POST.get("use", ""), clock.now()
    if chosen and chosen != "keep":
        write(lambda: change_me(actor=person(request), time_zone=chosen, now=now), now=now)
        messages.success(request, "Changed. Every page is on this clock from now on.")
    request.session[ZONE_KEPT] = request.COOKIES.get(ZONE_COOKIE, "")
    back = request.POST.get("next", "")
    return redirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "home")
