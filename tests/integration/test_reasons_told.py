"""Why something is called off is typed once and stands in every email that it causes."""

import inspect
import pkgutil
from collections.abc import Callable
from datetime import date, timedelta
from importlib import import_module

import pytest

from accounts.models import Guardianship
from bookings import operations
from bookings.domain.clearing import Decision, Remedy
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.operations.calling_off import call_off, call_off_all
from bookings.operations.closing import close_account, leave_school
from bookings.operations.days_away import clear_hours, go_away
from bookings.operations.guardians import remove_guardian
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.locks import lock_instructors
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db
WHY = "A canary-7e10 has eaten the strings."


@pytest.fixture
def meetings() -> list[Meeting]:
    """A lesson with Noor, and a group with Posy in it while Marlo waits, both with Ilse on 9
    March.
    """
    cast.make_policy()
    ilse = cast.make_instructor()
    lesson = cast.make_meeting(cast.make_offering(), ilse, at("2027-03-09T15:00Z"))
    circle = cast.make_offering("Circle", Kind.GROUP_MEETING, 50)
    group = cast.make_meeting(circle, ilse, at("2027-03-09T17:00Z"), places=1)
    cast.make_booking(lesson, cast.make_student())
    posy = cast.make_minor()
    cast.make_booking(group, posy, booked_by=posy.guardians.get())
    marlo = cast.make_student("Marlo Vance")
    WaitingPlace.objects.create(
        meeting=group, student=marlo, place_kind="player", joined_at=NOW, joined_by=marlo.user
    )
    return [lesson, group]


def whole(meetings: list[Meeting]) -> None:
    for meeting in meetings:
        call_off(actor=cast.make_admin(), meeting=meeting, why=WHY, now=NOW)


def several(meetings: list[Meeting]) -> None:
    lock_instructors([meetings[0].instructor_id])
    call_off_all(actor=cast.make_admin(), meetings=meetings, why=WHY, now=NOW)


def cleared(meetings: list[Meeting]) -> None:
    ilse, day = meetings[0].instructor, at("2027-03-09T00:00Z")
    clear_hours(
        actor=ilse.user,
        instructor=ilse,
        stretch=Period(day, day + timedelta(days=1)),
        decisions=[Decision(meeting.pk, Remedy.CALL_OFF) for meeting in meetings],
        why=WHY,
        now=NOW,
    )


def away(meetings: list[Meeting]) -> None:
    ilse, day = meetings[0].instructor, date(2027, 3, 9)
    days = {"first_on": day, "last_on": day, "time_zone": "Europe/Dublin"}
    go_away(actor=ilse.user, instructor=ilse, call_off_why=WHY, now=NOW, **days)


def dismissed(meetings: list[Meeting]) -> None:
    ilse = meetings[0].instructor
    dismiss_instructor(actor=cast.make_admin(), instructor=ilse, call_off_why=WHY, now=NOW)


def closed(meetings: list[Meeting]) -> None:
    close_account(actor=cast.make_admin(), user=meetings[0].instructor.user, why=WHY, now=NOW)


def left(meetings: list[Meeting]) -> None:
    for booking in Booking.objects.order_by("pk"):
        leave_school(actor=cast.make_admin(), student=booking.student, why=WHY, now=NOW)


def unguarded(meetings: list[Meeting]) -> None:
    row = Guardianship.objects.get()
    remove_guardian(actor=cast.make_admin(), guardianship=row, why=WHY, now=NOW)


ACTS: dict[str, tuple[Callable[[list[Meeting]], None], int]] = {
    "call_off": (whole, 5),
    "call_off_all": (several, 5),
    "clear_hours": (cleared, 4),
    "go_away": (away, 4),
    "dismiss_instructor": (dismissed, 4),
    "close_account": (closed, 4),
    "leave_school": (left, 4),
    "remove_guardian": (unguarded, 2),
}
"""Each with the number of emails about what it ends: families, who waits, and the instructor, who
reads one of all their meetings where they end together.
"""
INNER = {
    "bar_guardian",  # its reason is for admins alone
    "clear",
    "end_and_tell",
    "end_booking",
    "end_meeting",
    "end_offer",
    "end_proposal",
    "end_waiting",
    "give_up_place",
    "mark_cancelled",
    "end_all_ahead",
    "end_exchange",
    "end_exchange_and_tell",
    "fail_plan",
    "settle",
}
"""Steps of other operations: they take the sentence, or the code of an end, from those."""


@pytest.mark.parametrize("name", ACTS)
def test_every_email_of_a_calling_off_says_why(name: str, meetings: list[Meeting]) -> None:
    """Each email about what ended has the sentence.

    What follows, such as an offer to the next, has none.
    """
    act, number = ACTS[name]
    write(lambda: act(meetings), now=NOW)
    told = list(OutboxMessage.objects.exclude(kind__in=["account", "offer", "offer-reminder"]))
    assert [message.title for message in told if WHY not in message.body] == []
    assert len(told) == number


def test_every_operation_that_asks_why_is_tried_here() -> None:
    """Walks the operations: one that takes such a sentence has its line above."""
    asks = set()
    for module in pkgutil.iter_modules(operations.__path__):
        for name, function in inspect.getmembers(
            import_module(f"bookings.operations.{module.name}"), inspect.isfunction
        ):
            own = function.__module__ == f"bookings.operations.{module.name}"
            takes = {"why", "call_off_why"} & set(inspect.signature(function).parameters)
            if own and takes and not name.startswith("_"):
                asks.add(name)
    assert asks - INNER == set(ACTS)
