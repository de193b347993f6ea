"""A guardian's consent: by the emailed form, by their own page, or asked for by the child."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Guardianship
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.consents import (
    give_consent,
    give_own_consent,
    guardianship_by_secret,
    request_consent,
)
from bookings.pages.showing import show
from bookings.pages.signed_in import acting_student, user_of
from bookings.queries.consents import wording_about
from bookings.queries.guardians import own_guardianship


@require_http_methods(["GET", "POST"])
def emailed(request: HttpRequest, secret: str) -> HttpResponse:
    """The emailed form: GET shows the wording, POST agrees to the wording that was shown."""
    found, now = guardianship_by_secret(secret), clock.now()
    address = reverse("consent", kwargs={"secret": secret})
    return _form(
        request,
        found,
        lambda wording: give_consent(secret=secret, wording=wording, now=now),
        after=address,
    )


@login_required
@require_http_methods(["GET", "POST"])
def own(request: HttpRequest, guardianship_id: int) -> HttpResponse:
    """The same form for a guardian who is signed in; `next` in its address is where they were."""
    actor, now = user_of(request), clock.now()
    found = own_guardianship(actor, guardianship_id)
    back = request.GET.get("next", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts=None):
        back = f"{reverse('my-lessons')}?student={found.student_id}"
    return _form(
        request,
        found,
        lambda wording: give_own_consent(actor=actor, guardianship=found, wording=wording, now=now),
        after=back,
    )


@login_required
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    """A student under age, or an admin, has the guardians emailed the form."""
    student, now = acting_student(request), clock.now()
    if write(lambda: request_consent(student=student, now=now), now=now):
        messages.success(request, "We have emailed your guardian the form.")
    else:
        messages.info(
            request, "Your guardian has the form already. Ask them to look for our email."
        )
    return redirect("my-lessons")


def _form(
    request: HttpRequest,
    guardianship: Guardianship,
    agree: Callable[[str], Guardianship],
    *,
    after: str,
) -> HttpResponse:
    now, refusal = clock.now(), None
    if request.method == "POST":
        try:
            if request.POST.get("agree") != "yes":
                said = "Tick the box if you agree; leave the page if you do not."
                raise Refused("invalid", said, field="agree")
            wording = request.POST.get("wording", "")
            write(lambda: agree(wording), now=now)
        except Refused as error:
            refusal = error
        else:
            messages.success(request, "Thank you. Your consent is on file.")
            return redirect(after)
    context = {
        "guardianship": guardianship,
        "wording": wording_about(guardianship.student, now=now),
        "refusal": refusal,
        "after": after,
    }
    return show(request, "levare/consent.html", context)
