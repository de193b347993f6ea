"""Booking, moving and cancelling a one-on-one, by the operations themselves."""

from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Standing
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage
from bookings.operations.booking import IntakeText, book_slot, cancel_slot
from bookings.operations.consents import give_consent
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused, school

__all__ = ["school"]

pytestmark = pytest.mark.django_db


def test_a_booking_makes_a_meeting_with_the_instructors_wall_time(school):
    """The promise is Dublin's wall time with its zone; the instants are derived from it."""
    booking = school.book(
        at("2027-03-12T17:30Z"), intake=IntakeText(questions=["Why does my thumb buzz?"])
    )
    meeting = booking.meeting
    assert (str(meeting.time_zone), str(meeting.wall_on), meeting.wall_at.isoformat()) == (
        "Europe/Dublin",
        "2027-03-12",
        "17:30:00",
    )
    assert meeting.held_until - meeting.ends_at == timedelta(minutes=5)
    assert (booking.standing, meeting.taken, booking.intake.questions) == (
        Standing.HELD,
        1,
        ["Why does my thumb buzz?"],
    )
    assert AuditRow.objects.get(thing="booking").verb == "booked"
    assert (
        OutboxMessage.objects.filter(
            kind="invitation", method="REQUEST", recipient=school.noor.user
        ).count()
        == 1
    )


@pytest.mark.parametrize(
    ("code", "start"),
    [
        ("past", "2027-03-01T08:00Z"),
        ("too-soon", "2027-03-01T20:30Z"),
        ("too-far", "2027-05-01T10:00Z"),
        ("outside-hours", "2027-03-12T21:00Z"),
        ("off-grid", "2027-03-12T17:35Z"),
        ("off-grid", "2027-03-12T17:31Z"),
    ],
)
def test_a_start_against_a_rule_is_refused_by_name_and_nothing_is_written(school, code, start):
    """Each rule has its code, and a refusal leaves no trace."""
    refused(code, lambda: school.book(at(start)))


def test_the_same_time_is_taken_once(school):
    """The second student is told that the time is not free; the changeover counts too."""
    school.book(at("2027-03-12T17:30Z"))
    marlo = cast.make_student("Marlo Vance")
    refused("taken", lambda: school.book(at("2027-03-12T17:30Z"), student=marlo))
    assert school.book(at("2027-03-12T18:00Z"), student=marlo).is_live


def test_the_student_cannot_be_in_two_places(school):
    """Their own meeting with another instructor stands in the way."""
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    cast.teaches(wren, school.consultation)
    cast.publish(wren, cast.EVERY_DAY)
    school.book(at("2027-03-12T17:30Z"))
    refused(
        "own-clash",
        lambda: write(
            lambda: book_slot(
                actor=school.noor.user,
                student=school.noor,
                offering=school.consultation,
                instructor=wren,
                starts_at=at("2027-03-12T17:30Z"),
                now=NOW,
            ),
            now=NOW,
        ),
    )


def test_two_open_consultations_are_the_allowance(school):
    """A third is refused until one has been taken or cancelled."""
    first = school.book(at("2027-03-12T17:30Z"))
    school.book(at("2027-03-13T17:30Z"))
    refused("allowance-used", lambda: school.book(at("2027-03-14T17:30Z")))
    write(lambda: cancel_slot(actor=school.noor.user, booking=first, now=NOW), now=NOW)
    assert school.book(at("2027-03-14T17:30Z")).is_live


def test_a_level_that_is_not_taught_is_refused(school):
    """Teaches has a lowest and a highest level."""
    school.ilse.teaches.update(lowest_level=5)
    refused("not-taught", lambda: school.book(at("2027-03-12T17:30Z")))


def test_scenario_5_a_minors_night(school):
    """Posy, ten, in Sydney: Saturday 20:00 Dublin is Sunday 07:00 for them and refused with their
    time; 09:00 Dublin is 20:00 and taken.

    Source: acceptance scenario 5; 08:00-21:00 follows the sleep advice of the American Academy of
    Sleep Medicine (2016).
    """
    now = at("2027-01-25T09:00Z")
    posy = cast.make_minor()
    hedda = posy.guardians.get()
    refusal = refused(
        "minor-hours",
        lambda: school.book(at("2027-02-06T20:00Z"), student=posy, actor=hedda, now=now),
    )
    assert (
        refusal.data["local_start"].startswith("2027-02-07T07:00")
        and refusal.data["time_zone"] == "Australia/Sydney"
    )
    assert school.book(at("2027-02-06T09:00Z"), student=posy, actor=hedda, now=now).is_live


def test_scenario_6_a_minor_without_consent_is_refused_and_their_guardian_asked_once(school):
    """Nothing is held; the guardian on file gets one request, however often somebody tries; consent
    opens the door.

    Source: acceptance scenario 6; a musicians' union's online safeguarding advice (agree online
    teaching with the guardians in writing).
    """
    posy = cast.make_minor(consent=False)
    hedda = posy.guardians.get()
    for _ in range(2):
        with pytest.raises(Refused) as caught:
            school.book(at("2027-03-06T09:00Z"), student=posy, actor=hedda)
        assert caught.value.code == "consent-missing"
    assert not Booking.objects.exists() and not Meeting.objects.exists()
    request = OutboxMessage.objects.get()
    assert (request.kind, request.recipient, "Lindqvist" in request.title) == (
        "consent",
        hedda,
        False,
    )
    secret = request.body.split("/consent/")[1].split("/")[0]
    write(lambda: give_consent(secret=secret, wording="2026-11", now=NOW), now=NOW)
    assert posy.guardianships.get().consent_wording == "2026-11"
    assert school.book(at("2027-03-06T09:00Z"), student=posy, actor=hedda).is_live


def test_coming_of_age_is_judged_on_the_day_of_the_lesson(school):
    """On the eve they may not have the hour of 21:00, on the day they may."""
    school.ilse.week.windows.update(closes=23 * 60)
    posy = cast.make_minor(adult_on=date(2027, 3, 10), time_zone="Europe/Dublin")
    hedda = posy.guardians.get()
    refused("minor-hours", lambda: school.book(at("2027-03-09T21:00Z"), student=posy, actor=hedda))
    assert school.book(at("2027-03-10T21:00Z"), student=posy, actor=hedda).is_live
