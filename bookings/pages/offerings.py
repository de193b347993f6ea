"""Offerings, for admins: a list, one more, each to change, and who teaches it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import access_offering, require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.operations.offerings import (
    ChangedTeaching,
    change_offering,
    make_offering,
    set_teaches,
)
from bookings.pages.forms.offerings import (
    KINDS,
    TeachesForm,
    change_offering_form,
    new_offering_form,
)
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.offerings import all_offerings, has_been_booked, offering_with_teachers


@login_required
@require_GET
def offerings(request: HttpRequest) -> HttpResponse:
    """Every offering, open or closed, with who teaches it."""
    require_admin(user_of(request))
    rows = [(row, KINDS[Kind(row.kind)].partition(":")[0]) for row in all_offerings()]
    return render(request, "levare/offerings.html", {"rows": rows})


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """One more offering; it is open at once where the box is ticked."""
    user, now, refusal = user_of(request), clock.now(), None
    require_admin(user)
    form = new_offering_form(request.POST)
    if request.method == "POST" and form.is_valid():
        try:
            made = write(lambda: make_offering(actor=user, values=form.values(), now=now), now=now)
        except Refused as error:
            refusal = error
        else:
            messages.success(request, f"Added: {made}. Say who teaches it.")
            return redirect("offering-teachers", offering_id=made.pk)
    context = {"form": form, "refusal": refusal}
    return show(request, "levare/new_offering.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def offering(request: HttpRequest, offering_id: int) -> HttpResponse:
    """GET shows an offering as typed, with who teaches it; POST changes it."""
    user, now, refusal = user_of(request), clock.now(), None
    require_admin(user)
    found = offering_with_teachers(access_offering(offering_id))
    form = change_offering_form(request.POST, found, is_fixed=has_been_booked(found))
    if request.method == "POST" and form.is_valid():
        try:
            write(
                lambda: change_offering(
                    actor=user,
                    offering=found,
                    version=form.cleaned_data["version"],
                    values=form.values(),
                    now=now,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, f"Saved: {form.cleaned_data['name']}.")
            return redirect("offerings")
    context = {"form": form, "refusal": refusal, "offering": found}
    return show(request, "levare/offering.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def teachers(request: HttpRequest, offering_id: int) -> HttpResponse:
    """Who teaches an offering, to which levels: one instructor at a time."""
    user, now, refusal = user_of(request), clock.now(), None
    require_admin(user)
    found = offering_with_teachers(access_offering(offering_id))
    form = TeachesForm(request.POST, found, request.GET.get("instructor", ""))
    if request.method == "POST" and form.is_valid():
        levels = None if request.POST.get("act") == "end" else form.levels()
        try:
            changed = write(
                lambda: set_teaches(
                    actor=user,
                    offering=found,
                    instructor=form.cleaned_data["instructor"],
                    levels=levels,
                    version=form.cleaned_data["version"],
                    now=now,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            _say(request, changed, str(form.cleaned_data["instructor"]), levels)
            return redirect("offering-teachers", offering_id=found.pk)
    context = {"form": form, "refusal": refusal, "offering": found}
    return show(request, "levare/offering_teachers.html", context)


def _say(
    request: HttpRequest, changed: ChangedTeaching, name: str, levels: tuple[int, int] | None
) -> None:
    if levels is None:
        messages.success(request, f"{name} no longer teaches {changed.offering}.")
    else:
        messages.success(
            request, f"{name} teaches {changed.offering}, levels {levels[0]} to {levels[1]}."
        )
    if changed.left_outside:
        count, one = changed.left_outside, changed.left_outside == 1
        messages.warning(
            request,
            f"{count} {'place' if one else 'places'} ahead would not be taken any more. "
            f"{'It is' if one else 'They are'} still booked.",
        )
