"""A guardian barred from everything about one child, and the bar lifted: for admins."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import Guardianship
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.barring import bar_guardian, lift_bar
from bookings.pages.forms.fields import line_of
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.barring import barring_of
from bookings.queries.guardians import any_guardianship


@login_required
@require_http_methods(["GET", "POST"])
def bar(request: HttpRequest, guardianship_id: int) -> HttpResponse:
    """GET says what a bar does and asks for the reason; POST bars."""
    actor, now = user_of(request), clock.now()
    row, why = any_guardianship(actor, guardianship_id), line_of(request.POST.get("why", ""))
    if request.method == "GET":
        if row.barred_at is not None:
            return redirect("lift-bar", guardianship_id=row.pk)
        return _bar_page(request, row)
    end = request.POST.get("end") == "yes"
    try:
        write(
            lambda: bar_guardian(actor=actor, guardianship=row, why=why, end_bookings=end, now=now),
            now=now,
        )
    except Refused as refusal:
        return _bar_page(request, row, refusal)
    messages.success(request, f"{row.guardian.name} is barred.")
    return redirect("student", student_id=row.student_id)


@login_required
@require_http_methods(["GET", "POST"])
def lift(request: HttpRequest, guardianship_id: int) -> HttpResponse:
    """GET shows the reason; POST lifts the bar."""
    actor, now = user_of(request), clock.now()
    row = any_guardianship(actor, guardianship_id)
    if request.method == "GET":
        if row.barred_at is None:
            return redirect("bar-guardian", guardianship_id=row.pk)
        return render(request, "levare/lift_bar.html", {"row": row})
    try:
        write(lambda: lift_bar(actor=actor, guardianship=row, now=now), now=now)
    except Refused as refusal:
        if refusal.code == "already-ended":  # lifted a moment ago, by a second press or an admin
            messages.warning(request, refusal.detail)
            return redirect("student", student_id=row.student_id)
        context = {"row": row, "refusal": refusal}
        return show(request, "levare/lift_bar.html", context)
    messages.success(request, f"{row.guardian.name} is no longer barred.")
    return redirect("student", student_id=row.student_id)


def _bar_page(
    request: HttpRequest, row: Guardianship, refusal: Refused | None = None
) -> HttpResponse:
    found = barring_of(row, now=clock.now())
    context = {
        "row": row,
        "child": row.student.first_name,
        "time_zone": row.student.zone,
        "ends": found.ends,
        "roles": found.roles,
        "known_rooms": found.known_rooms,
        "why": request.POST.get("why", ""),
        "refusal": refusal,
    }
    return show(request, "levare/bar_guardian.html", context)
