"""Addresses that cannot be reached: one as an admin sees it, and one's own, proven by a link."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.domain.email_troubles import IN_WORDS, Trouble
from bookings.door import write
from bookings.operations.email_troubles import ask_for_proof, lift, prove
from bookings.pages.signed_in import user_of
from bookings.queries.email_troubles import check_proof, one_trouble


@login_required
@require_http_methods(["GET", "POST"])
def email_trouble(request: HttpRequest, trouble_id: int) -> HttpResponse:
    """GET says why an address cannot be reached and what waits; POST sends to it again."""
    actor, now = user_of(request), clock.now()
    if request.method == "POST":
        row = write(lambda: lift(actor=actor, trouble_id=trouble_id, now=now), now=now)
        messages.success(request, f"Emails leave for {row.address} again.")
        return redirect("needs")
    found = one_trouble(actor, trouble_id)
    context = {
        "row": found.row,
        "why": IN_WORDS[Trouble(found.row.why)],
        "waiting": found.waiting,
    }
    return render(request, "levare/email_trouble.html", context)


@login_required
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    """Sends the reader an email with a link that proves their address."""
    user, now = user_of(request), clock.now()
    write(lambda: ask_for_proof(actor=user, now=now), now=now)
    messages.success(
        request, f"An email is on its way to {user.email}. Open the link in it. One leaves a day."
    )
    return redirect("me")


@login_required
@require_http_methods(["GET", "POST"])
def prove_address(request: HttpRequest, proof: str) -> HttpResponse:
    """GET asks once more, because programs open links in emails too; POST lifts the mark."""
    user, now = user_of(request), clock.now()
    if request.method == "GET":
        check_proof(user, proof)
        return render(request, "levare/prove_address.html")
    write(lambda: prove(actor=user, proof=proof, now=now), now=now)
    messages.success(request, "Thank you. Emails leave for you again.")
    return redirect("me")
