"""Meetings that new zone rules move: what is kept, what is flagged, and how a person settles it.

Rules of another version are imitated by the rows they would have written: a wall time, and an
instant an hour off.
"""

from collections import Counter

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from bookings.domain.errors import Refused
from bookings.domain.retiming import Clash
from bookings.domain.vocabulary import Standing
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, guards
from bookings.operations.booking import book_slot, cancel_slot, move_slot
from tests import cast
from tests.cast import NOW, at
from tests.school.lessons import HOUR, School

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return School()


def flags(*meetings):
    found = [Meeting.objects.get(pk=meeting.pk) for meeting in meetings]
    return [(meeting.is_flagged, meeting.flagged_why) for meeting in found]


def test_two_that_change_places_are_both_let_through(school):
    """Neither meets the guard half way, and neither is flagged in the end."""
    first = school.lesson_at("2027-03-12T17:00Z", school.noor, off=2 * HOUR)
    second = school.lesson_at("2027-03-12T17:30Z", school.marlo, off=-2 * HOUR)
    third = school.lesson_at("2027-03-12T19:30Z", school.noor, off=-2.5 * HOUR)
    school.retime()
    starts = [Meeting.objects.get(pk=meeting.pk).starts_at for meeting in (first, second, third)]
    assert starts == [at("2027-03-12T17:00Z"), at("2027-03-12T17:30Z"), at("2027-03-12T19:30Z")]
    assert flags(first, second, third) == [(False, "")] * 3


def test_two_that_land_on_each_other_are_both_flagged_and_one_move_settles_both(school):
    """Both are kept.

    Moved by hand the one clears itself; the other is cleared by a person, not before.
    """
    stayed = school.lesson_at("2027-03-12T17:00Z", school.marlo)
    moved = school.lesson_at("2027-03-12T17:10Z", school.noor, off=2 * HOUR)
    school.retime()
    assert flags(stayed, moved) == [(False, ""), (True, "instructor")]
    with pytest.raises(Refused) as caught:
        school.clear(moved)
    assert caught.value.code == "taken"
    booking = stayed.bookings.get()
    write(
        lambda: move_slot(
            actor=school.marlo.user, booking=booking, starts_at=at("2027-03-13T17:00Z"), now=NOW
        ),
        now=NOW,
    )
    school.clear(moved)
    assert flags(stayed, moved) == [(False, ""), (False, "")]
    assert AuditRow.objects.filter(
        verb="cleared flag", thing_id=moved.pk, actor=school.admin
    ).exists()
    with pytest.raises(Refused) as caught:
        school.clear(moved)
    assert caught.value.code == "already-done"


def test_a_flagged_meeting_that_is_moved_clears_itself(school):
    """Its flag and its booking's go with the new time, and the guards judge both again."""
    school.lesson_at("2027-03-12T17:00Z", school.noor, teacher=school.wren)
    moved = school.lesson_at("2027-03-12T17:10Z", school.noor, off=2 * HOUR)
    school.retime()
    assert flags(moved) == [(True, "student")]
    booking = moved.bookings.get()
    assert booking.is_flagged
    write(
        lambda: move_slot(
            actor=school.noor.user, booking=booking, starts_at=at("2027-03-13T17:00Z"), now=NOW
        ),
        now=NOW,
    )
    assert flags(moved) == [(False, "")]
    booking.refresh_from_db()
    assert not booking.is_flagged
    with pytest.raises(IntegrityError) as broken, transaction.atomic():
        Booking.objects.filter(pk=booking.pk).update(
            starts_at=at("2027-03-12T17:00Z"), ends_at=at("2027-03-12T17:25Z")
        )
    assert guards.as_refusal(broken.value).code == "own-clash"


def test_a_student_in_two_meetings_is_cleared_once_they_are_out_of_one(school):
    """Refused while both stand; after they have cancelled one the office clears the other."""
    first = school.lesson_at("2027-03-12T17:00Z", school.noor, teacher=school.wren)
    moved = school.lesson_at("2027-03-12T17:10Z", school.noor, off=2 * HOUR)
    school.retime()
    with pytest.raises(Refused) as caught:
        school.clear(moved)
    assert caught.value.code == "own-clash"
    write(
        lambda: cancel_slot(actor=school.noor.user, booking=first.bookings.get(), now=NOW), now=NOW
    )
    school.clear(moved)
    assert flags(moved) == [(False, "")]
    assert not moved.bookings.get().is_flagged


def test_a_flagged_meeting_still_blocks_new_bookings(school):
    """The rules look at no flag: neither its instructor nor its student is free."""
    school.lesson_at("2027-03-12T17:00Z", school.marlo)
    school.lesson_at("2027-03-12T17:20Z", school.noor, off=2 * HOUR)
    school.retime()
    asked = {"offering": school.lesson, "starts_at": at("2027-03-12T17:30Z"), "now": NOW}
    third = cast.make_student("Tamsin Grey")
    with pytest.raises(Refused) as caught:
        write(
            lambda: book_slot(actor=third.user, student=third, instructor=school.ilse, **asked),
            now=NOW,
        )
    assert caught.value.code == "taken"
    with pytest.raises(Refused) as caught:
        write(
            lambda: book_slot(
                actor=school.noor.user, student=school.noor, instructor=school.wren, **asked
            ),
            now=NOW,
        )
    assert caught.value.code == "own-clash"


def test_what_an_instructor_learns_is_in_their_way_too(school):
    """Ilse is taught by Wren at the hour that their own lesson moves to."""
    learner = cast.Student.objects.create(user=school.ilse.user, level=5, unit=1)
    school.lesson_at("2027-03-12T17:00Z", learner, teacher=school.wren)
    moved = school.lesson_at("2027-03-12T17:10Z", school.noor, off=2 * HOUR)
    (done,) = school.retime()
    assert (done.meeting, done.why) == (moved, (Clash.INSTRUCTOR,))


def test_a_group_is_told_once_a_family_and_an_offer_is_made_again(school):
    """A guardian of two has one message for the meeting; who was offered a place reads the new hour
    in their offer.
    """
    kit = cast.make_minor("Kit Albright", "Europe/London")
    guardian = kit.guardians.get()
    lark = cast.make_minor("Lark Albright", "Europe/London", guardian=guardian)
    meeting = school.lesson_at("2027-03-12T17:00Z", offering=school.circle, off=HOUR, places=5)
    for student in (kit, lark):
        cast.make_booking(meeting, student)
    cast.make_booking(
        meeting, school.noor, standing=Standing.OFFERED, answer_by=at("2027-03-12T17:30Z")
    )
    school.retime()
    told = Counter(
        OutboxMessage.objects.filter(meeting=meeting, due_at=NOW).values_list(
            "recipient__name", "kind"
        )
    )
    assert told == {
        (guardian.name, "invitation"): 1,
        ("Ilse Quarrow", "invitation"): 1,
        ("Noor Ashgrove", "offer"): 1,
    }
    letter = OutboxMessage.objects.get(recipient=guardian, kind="invitation")
    assert "Kit’s and Lark’s meeting keeps its hour there" in letter.body
    offer = Booking.objects.get(standing=Standing.OFFERED)
    assert (offer.starts_at, offer.answer_by) == (at("2027-03-12T17:00Z"), at("2027-03-12T17:00Z"))


def test_the_old_hour_is_told_by_the_rules_of_that_time(school):
    """Dublin moves, and London's rules changed with it: nothing changes for Marlo.

    New York's stayed, so Noor's hour moves; Kathmandu's changed by themselves, and there is no
    meeting there that would tell. By the installed rules each would be told a wrong old hour.
    """
    cast.keep_old_rules(**{"Europe/Dublin": -1, "Europe/London": -1, "Asia/Kathmandu": 1})
    tara = cast.make_student("Tara Bell", "Asia/Kathmandu")
    mine, noors, theirs = (
        school.lesson_at(f"2027-03-12T{hour}:00Z", student, off=HOUR)
        for hour, student in ((17, school.marlo), (20, school.noor), (11, tara))
    )
    school.retime()
    told = OutboxMessage.objects.get(meeting=mine, recipient=school.marlo.user, kind="invitation")
    assert (
        "On your clock nothing changes. For people elsewhere it is 60 minutes earlier than planned."
        in told.body
    )
    told = OutboxMessage.objects.get(meeting=noors, recipient=school.noor.user, kind="invitation")
    assert "it moves from Fri 12 March 16:00 to Fri 12 March 15:00, New York." in told.body
    told = OutboxMessage.objects.get(meeting=theirs, recipient=tara.user, kind="invitation")
    assert "it moves from Fri 12 March 18:45 to Fri 12 March 16:45, Kathmandu." in told.body


def test_the_office_shows_why_and_clears_the_flag(school):
    """The list says it in words; the act refuses while the clash stands, and clears it after."""
    stayed = school.lesson_at("2027-03-12T17:00Z", school.marlo)
    moved = school.lesson_at("2027-03-12T17:10Z", school.noor, off=2 * HOUR)
    school.retime()
    office = Client()
    office.force_login(school.admin)
    listed = office.get("/office/bookings/meeting/?is_flagged__exact=1").content.decode()
    assert "its instructor has another meeting then" in listed
    act = {"action": "clear_flags", "_selected_action": [moved.pk]}
    refused = office.post("/office/bookings/meeting/", act, follow=True).content.decode()
    assert "move one of the two first" in refused
    write(
        lambda: cancel_slot(actor=school.marlo.user, booking=stayed.bookings.get(), now=NOW),
        now=NOW,
    )
    office.post("/office/bookings/meeting/", act, follow=True)
    assert flags(moved) == [(False, "")]
