"""People: who belongs to the school, whom an admin invites, and one's own name and clock."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Instructor, Student, User, Welcome
from accounts.second_factor import people_with_factors
from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.people import change_me, invite
from bookings.pages.acting import family, person
from bookings.pages.busy import section
from bookings.pages.context import ZONE_COOKIE, ZONE_KEPT
from bookings.pages.forms import InviteForm, MeForm


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
                request, f"Invited: {values['name']}. The letter is good for two weeks."
            )
            return redirect("people")
    page = {
        "form": form,
        "refusal": refusal,
        "students": Student.objects.select_related("user").prefetch_related(
            "guardianships__guardian"
        ),
        "instructors": Instructor.objects.select_related("user").prefetch_related(
            "teaches__offering"
        ),
        "admins": User.objects.filter(is_staff=True, is_active=True),
        "with_factors": people_with_factors().exclude(pk=person(request).pk),
        "invited": Welcome.objects.filter(used_at__isnull=True, good_until__gt=now),
    }
    return render(
        request,
        "people.html",
        page,
        status=refusal.status if refusal else 422 if form.errors else 200,
    )


@login_required
@require_http_methods(["GET", "POST"])
def me(request: HttpRequest) -> HttpResponse:
    """One's own name and clock."""
    user, now = person(request), clock.now()
    form = MeForm(request.POST or None, initial={"name": user.name, "time_zone": user.zone})
    if request.method == "POST" and form.is_valid():
        write(lambda: change_me(actor=user, now=now, **form.cleaned_data), now=now)
        messages.success(request, "Kept. Every page is on this clock from now on.")
        return redirect("me")
    page = {"form": form, "busy_of_family": [section(student) for student in family(user)]}
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
