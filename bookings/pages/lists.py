"""The search of a list that instructors read of their own, and admins of everybody's."""

from django.http import HttpRequest

from bookings.pages.forms.lists import TaughtForm
from bookings.pages.signed_in import user_of
from bookings.queries.regular_instructors import instructors_teaching


def taught_form(request: HttpRequest, *, words: str = "") -> TaughtForm:
    """Part of a name or what `words` says and, for an admin, one of the instructors."""
    teachers = instructors_teaching() if user_of(request).is_staff else None
    return TaughtForm(request.GET, teachers=teachers, words=words)
