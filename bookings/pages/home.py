"""The start page: it leads each person to the page they begin on."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET

from accounts.models import User
from bookings import clock
from bookings.pages.signed_in import family, roles
from bookings.queries.setting_up import is_set_up


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """To the first page of the person's role, or to sign-in."""
    user = request.user
    if not isinstance(user, User):
        return redirect("account_login")
    if roles(user).is_admin:
        return redirect("needs" if is_set_up(now=clock.now()) else "setting-up")
    if roles(user).teaches:
        return redirect("today")
    return redirect("my-lessons" if family(user) else "me")
