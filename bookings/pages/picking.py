"""Suggestions while an admin types who is meant."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe

from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.pages.forms.fields import line_of
from bookings.pages.signed_in import user_of
from bookings.queries.picking import Whom, label_of, people_matching


@login_required
@require_safe
def find_people(request: HttpRequest) -> HttpResponse:
    """Labels of whoever matches, 20 at most: {"found": ["Noor Ashgrove, level 4, no. 7"]}."""
    require_admin(user_of(request))
    try:
        whom = Whom(request.GET.get("whom", ""))
    except ValueError:
        raise Refused("malformed", "This link does not say who is looked for.") from None
    found = people_matching(whom, line_of(request.GET.get("q", "")))
    return JsonResponse({"found": [label_of(person) for person in found.people]})
