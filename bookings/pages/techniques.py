"""The techniques of each offering, for admins: all lists, and one of them to change."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import access_offering, require_admin
from bookings.domain.errors import Refused
from bookings.domain.techniques import MOST_TECHNIQUES, PRESETS, Preset
from bookings.door import write
from bookings.operations.techniques import replace_techniques
from bookings.pages.forms.fields import PlainText, is_said_at_field
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.techniques import USUAL, offerings_with_techniques, techniques_of


class TechniquesForm(forms.Form):
    """A list as it is typed, one a line."""

    techniques = PlainText(
        label="Techniques",
        max_length=2000,
        help_text=f"One a line, up to {MOST_TECHNIQUES}, in the order of the note.",
        widget=forms.Textarea(attrs={"rows": 14}),
    )


@login_required
@require_GET
def techniques(request: HttpRequest) -> HttpResponse:
    """Every offering with its list, its own or the usual one."""
    require_admin(user_of(request))
    rows = [
        (offering, [row.name for row in offering.techniques.all()])
        for offering in offerings_with_techniques()
    ]
    return render(request, "levare/techniques.html", {"rows": rows, "usual": USUAL})


@login_required
@require_http_methods(["GET", "POST"])
def offering_techniques(request: HttpRequest, offering_id: int) -> HttpResponse:
    """GET shows the list of an offering as typed, or the preset named in the address.

    POST replaces it. The form holds the list that the page showed.
    """
    user, now = user_of(request), clock.now()
    require_admin(user)
    offering = access_offering(offering_id)
    found, preset = techniques_of(offering), request.GET.get("preset", "")
    shown = PRESETS[Preset(preset)] if preset in list(Preset) else found
    form = TechniquesForm(request.POST or None, initial={"techniques": "\n".join(shown)})
    refusal = None
    if request.method == "POST" and form.is_valid():
        names, seen = form.cleaned_data["techniques"].split("\n"), request.POST.getlist("seen")
        try:
            write(
                lambda: replace_techniques(
                    actor=user, offering=offering, names=names, seen=seen, now=now
                ),
                now=now,
            )
        except Refused as error:
            refusal = None if is_said_at_field(form, error) else error
            found = techniques_of(offering)
        else:
            messages.success(request, f"Saved the techniques of {offering}.")
            return redirect("techniques")
    context = {
        "offering": offering,
        "form": form,
        "seen": found,
        "presets": list(Preset),
        "refusal": refusal,
    }
    return show(request, "levare/offering_techniques.html", context)
