"""The words of consent, for admins: what guardians are asked now, and a new version of it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.consents import publish_wording
from bookings.pages.forms.people import WordingForm
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.consents import wording_in_force


@login_required
@require_http_methods(["GET", "POST"])
def wording(request: HttpRequest) -> HttpResponse:
    """GET shows the words in force, to be changed into the next version; POST publishes it."""
    require_admin(user_of(request))
    now, refusal = clock.now(), None
    current = wording_in_force(now)
    form = WordingForm(request.POST or None, initial={"text": "\n".join(current.sentences)})
    if request.method == "POST" and form.is_valid():
        try:
            write(
                lambda: publish_wording(actor=user_of(request), now=now, **form.cleaned_data),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, "Published. Guardians who are asked from now on read it.")
            return redirect("wording")
    context = {"form": form, "current": current, "refusal": refusal}
    return show(request, "levare/wording.html", context)
