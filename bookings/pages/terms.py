"""Terms, for admins: a list, one more, and each with its breaks to change."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_term, require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.terms import change_term, publish_term
from bookings.pages.forms.terms import TermForm, say_breaks
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.terms import all_terms


@login_required
@require_http_methods(["GET", "POST"])
def terms(request: HttpRequest) -> HttpResponse:
    """GET lists the terms; POST publishes one more."""
    require_admin(user_of(request))
    form, now, refusal = TermForm(request.POST or None), clock.now(), None
    if request.method == "POST" and form.is_valid():
        values = {name: value for name, value in form.cleaned_data.items() if name != "version"}
        try:
            write(lambda: publish_term(actor=user_of(request), now=now, **values), now=now)
        except Refused as error:
            refusal = error
        else:
            messages.success(
                request, f"Published: {values['name']}. Families can now take weekly places in it."
            )
            return redirect("terms")
    context = {
        "form": form,
        "refusal": refusal,
        "terms": all_terms(),
    }
    return show(request, "levare/terms.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def term(request: HttpRequest, term_id: int) -> HttpResponse:
    """GET shows a term as typed; POST changes it, and lists the lessons now outside it."""
    require_admin(user_of(request))
    found = access_term(term_id)
    now, refusal = clock.now(), None
    typed: dict[str, Any] = {
        name: getattr(found, name)
        for name in ("name", "first_on", "last_on", "lessons_promised", "flex_last_on", "version")
    }
    form = TermForm(request.POST or None, initial={**typed, "breaks": say_breaks(found)})
    if request.method == "POST" and form.is_valid():
        try:
            changed = write(
                lambda: change_term(
                    actor=user_of(request), term=found, now=now, **form.cleaned_data
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, f"Changed: {changed.term}.")
            for meeting in changed.left_outside:
                messages.warning(
                    request,
                    f"Now outside the term and still booked: {meeting}, with {meeting.instructor}.",
                )
            return redirect("terms")
    return show(request, "levare/term.html", {"form": form, "refusal": refusal, "term": found})
