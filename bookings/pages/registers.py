"""The register of a meeting: all present in one act, the exceptions, or nobody taught."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from bookings import clock
from bookings.access import access_taught_meeting
from bookings.domain.vocabulary import Attendance
from bookings.operations.register import mark_register
from bookings.pages.parameters import read_day, read_id, read_version
from bookings.pages.rosters import act_on_roster
from bookings.pages.signed_in import user_of

_MARK = "mark-"


@login_required
@require_POST
def register(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Who came, as the form says; its buttons also mark all others present, or all as missed by
    the instructor.
    """
    user, now = user_of(request), clock.now()
    found = access_taught_meeting(user, meeting_id, now=now)
    then, marks = request.POST.get("then"), _marks(request)
    if then == "instructor-absent":
        marks = dict.fromkeys(_shown(request), Attendance.INSTRUCTOR_ABSENT)
    others = Attendance.PRESENT if then == "others-present" else None
    version = read_version(request)
    return act_on_roster(
        request,
        found,
        lambda: mark_register(
            actor=user, meeting=found, marks=marks, others=others, version=version, now=now
        ),
        "Register saved.",
        _back_to_the_day(request),
    )


def _shown(request: HttpRequest) -> list[int]:
    """The bookings whose marks the form shows."""
    names = [name for name in request.POST if name.startswith(_MARK)]
    return [read_id(name.removeprefix(_MARK)) for name in names]


def _marks(request: HttpRequest) -> dict[int, Attendance]:
    """What the form says of each booking; "not marked" says nothing."""
    known = {attendance.value for attendance in Attendance}
    sent = {pk: request.POST[f"{_MARK}{pk}"] for pk in _shown(request)}
    return {pk: Attendance(said) for pk, said in sent.items() if said in known}


def _back_to_the_day(request: HttpRequest) -> str:
    """The day of Today from which the register was marked; empty from the roster."""
    on = request.POST.get("on")
    return f"{reverse('today')}?on={read_day(on).isoformat()}" if on else ""
