"""The ways in: the first page, an invitation, a guardian's consent."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import User
from bookings import clock
from bookings.access import instructor_of
from bookings.domain.errors import Refused
from bookings.domain.zones import is_known
from bookings.door import write
from bookings.operations.consents import give_consent, guardianship_by_secret
from bookings.operations.invitations import come_in, welcome_by_secret
from bookings.pages.acting import family
from bookings.pages.context import ZONE_COOKIE
from bookings.pages.forms import WelcomeForm
from bookings.queries.consents import wording_about


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Where somebody of that role begins."""
    user = request.user
    if not isinstance(user, User):
        return redirect("account_login")
    if instructor_of(user) or user.is_staff:
        return redirect("meetings")
    return redirect("my-lessons" if family(user) else "me")


@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest, secret: str) -> HttpResponse:
    """An invitation: GET shows the form, POST makes the account. Somebody known already only gains the role."""
    now = clock.now()
    found = welcome_by_secret(secret, now=now)
    known = User.objects.filter(email=found.email).first()
    page: dict[str, Any] = {"welcome": found, "form": None}
    browser = request.COOKIES.get(ZONE_COOKIE, "")
    zone_guess = browser if is_known(browser) else found.student.zone if found.student else "UTC"
    form = WelcomeForm(request.POST or None, initial={"name": found.name, "time_zone": zone_guess})
    if known is None:
        page["form"] = form
        if request.method == "GET" or not form.is_valid():
            return render(request, "welcome.html", page, status=422 if form.errors else 200)
        said = form.cleaned_data
    elif request.method == "GET":
        return render(request, "welcome.html", page)
    else:
        said = {"name": known.name, "time_zone": known.zone, "password": ""}
    try:
        write(lambda: come_in(secret=secret, now=now, **said), now=now)
    except Refused as refusal:
        return render(request, "welcome.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(request, "Welcome. Sign in with your email address and password.")
    return redirect("account_login")


@require_http_methods(["GET", "POST"])
def consent(request: HttpRequest, secret: str) -> HttpResponse:
    """A guardian's consent: GET shows what would be agreed to, POST agrees to the words that were shown."""
    now, refusal = clock.now(), None
    guardianship = guardianship_by_secret(secret)
    if request.method == "POST":
        try:
            if request.POST.get("agree") != "yes":
                said = "Tick the box if you agree; leave the page if you do not."
                raise Refused("invalid", said, field="agree")
            wording = request.POST.get("wording", "")
            write(lambda: give_consent(secret=secret, wording=wording, now=now), now=now)
        except Refused as error:
            refusal = error
        else:
            messages.success(request, "Thank you. Your consent is on file.")
            return redirect("consent", secret=secret)
    page = {
        "guardianship": guardianship,
        "wording": wording_about(guardianship.student, now=now),
        "refusal": refusal,
    }
    return render(request, "consent.html", page, status=refusal.status if refusal else 200)
