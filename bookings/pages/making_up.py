"""The owed lesson that a page about times carries along, so that what is booked makes it up."""

from django.http import HttpRequest

from accounts.models import Student
from bookings import clock
from bookings.access import access_owed_lesson, not_there
from bookings.models import OwedLesson
from bookings.pages.parameters import read_id
from bookings.pages.signed_in import user_of


def owed_named(request: HttpRequest, student: Student) -> OwedLesson | None:
    """The owed lesson that the address or the form names; None where it names none.

    Refused("not-found") for one that is not this student's.
    """
    named = request.POST.get("owed") or request.GET.get("owed")
    if not named:
        return None
    owed = access_owed_lesson(user_of(request), read_id(named), now=clock.now())
    if owed.student_id != student.pk:
        raise not_there()
    return owed
