"""A meeting that was called off takes place after all, for everybody who can still come."""

from datetime import timedelta

import pytest
from django.db.models import F

from accounts.models import Guardianship
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.operations import meetings, waiting
from bookings.operations.booking import IntakeText, book_slot, cancel_slot
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.reinstating import Reinstated, reinstate_meeting, who_returns
from bookings.operations.subscriptions import open_feed
from bookings.operations.weekly import leave_weekly_place
from bookings.queries.calendars import events_for, feed_bytes
from bookings.queries.places_audit import findings
from bookings.queries.waiting import line
from tests import cast
from tests.cast import NOW, at
from tests.functional.api.client import snapshot
from tests.integration.test_waiting import Class
from tests.letters import to, value
from tests.weekly_school import weekly_place

pytestmark = pytest.mark.django_db
OFF, LATER, LAST = (NOW + timedelta(hours=hours) for hours in (1, 2, 3))


@pytest.fixture
def group() -> Class:
    """Noor and Marlo are in, Juno and Otis wait; consultations can be booked with Ilse and with Wren."""
    group = Class()
    group.held = group.full()
    group.talk = cast.make_offering()
    group.wren = cast.make_instructor("Wren Halloway", "America/New_York")
    for teacher in (group.ilse, group.wren):
        cast.teaches(teacher, group.talk)
        cast.publish(teacher, cast.EVERY_DAY)
    return group


def off(group: Class, now=OFF, meeting: Meeting | None = None) -> None:
    group.do(
        meetings.call_off,
        actor=group.admin,
        meeting=meeting or group.meeting,
        why="The instructor is ill.",
        now=now,
    )


def back(group: Class, now=LATER, meeting: Meeting | None = None) -> Reinstated:
    return group.do(reinstate_meeting, actor=group.admin, meeting=meeting or group.meeting, now=now)


def consultation(group: Class, student, teacher, starts_at, now=OFF, **more) -> Booking:
    def book() -> Booking:
        actor = student.user or student.guardians.get()
        return book_slot(
            actor=actor,
            student=student,
            offering=group.talk,
            instructor=teacher,
            starts_at=starts_at,
            now=now,
            **more,
        )

    return write(book, now=now)


def refused(code: str, group: Class, meeting: Meeting | None = None, now=LATER) -> Refused:
    """The refusal, after checking that it left every row as it was and that the page would not have offered it."""
    before = snapshot()
    with pytest.raises(Refused) as caught:
        back(group, now, meeting)
    assert (caught.value.code, snapshot()) == (code, before)
    with pytest.raises(Refused):
        who_returns(Meeting.objects.get(pk=(meeting or group.meeting).pk), now=now)
    return caught.value


def written_at(now) -> list[OutboxMessage]:
    return list(
        OutboxMessage.objects.filter(made_at=now)
        .exclude(kind__startswith="reminder")
        .order_by("pk")
    )


def test_everybody_is_in_it_again_and_waits_in_the_old_order(group):
    """The same bookings, counted again; the queue as it stood; one row of audit; nothing the guards would have to say."""
    off(group)
    done = back(group)
    meeting = Meeting.objects.get(pk=group.meeting.pk)
    assert (done.left_out, meeting.status, meeting.taken, meeting.called_off_why) == (
        [],
        "CONFIRMED",
        2,
        "",
    )
    assert list(Booking.objects.filter(standing=Standing.HELD)) == group.held
    assert [waits.student for waits in line(meeting, PlaceKind.PLAYER)] == group.students[2:]
    assert list(AuditRow.objects.filter(verb="reinstated").values_list("thing_id", "actor")) == [
        (meeting.pk, group.admin.pk)
    ]
    assert [one for one in findings() if one.rule != "guard-missing"] == []


def test_each_reader_is_told_once_and_only_who_is_in_it_by_a_request(group):
    """RFC 5546 section 2.1.4: un-cancelling is a REQUEST with a higher SEQUENCE and STATUS:CONFIRMED; section 6.3: one ATTENDEE a message.

    Nobody has said yes again yet. The times stand on the reader's own clock first.
    """
    off(group)
    back(group)
    noor, _, juno, _ = group.students
    messages = written_at(LATER)
    assert {m.recipient for m in messages} == {
        group.ilse.user,
        *(student.user for student in group.students),
    }
    assert len(messages) == 5
    (hers,) = to(messages, noor.user).values()
    event = hers.calendar[hers.calendar.index("BEGIN:VEVENT") :]
    assert [value(hers.calendar, "METHOD"), value(event, "SEQUENCE"), value(event, "STATUS")] == [
        "REQUEST",
        "2",
        "CONFIRMED",
    ]
    assert (value(event, "UID"), event.count("\r\nATTENDEE")) == (str(group.meeting.uid), 1)
    assert "PARTSTAT=NEEDS-ACTION" in event.replace("\r\n ", "")
    assert hers.title == "Reinstated: Ornaments with I. Quarrow, Sun 14 March 13:00, New York"
    assert (
        "has been reinstated: Ornaments with I. Quarrow. Your place is kept as it was." in hers.body
    )
    assert (
        "Sunday 14 March 2027, 13:00–14:00, New York\n  Sunday 14 March 2027, 17:00–18:00, Dublin (Ilse’s clock)"
        in hers.body
    )
    (told,) = to(messages, juno.user).values()
    assert (
        "You have the same position on its waiting list as before." in told.body,
        told.calendar,
    ) == (True, "")
    (taught,) = to(messages, group.ilse.user).values()
    assert (taught.method, value(taught.calendar, "STATUS")) == ("REQUEST", "CONFIRMED")
    assert set(
        OutboxMessage.objects.filter(
            recipient=noor.user, state="due", kind__startswith="reminder"
        ).values_list("state_key")
    ) == {("sequence:2",)}


def test_feeds_show_it_confirmed_again(group):
    """Who was in it, who teaches it and who had left it before: each feed has another revision, and only the last stays cancelled."""
    noor, marlo = group.students[:2]
    group.do(waiting.leave_place, actor=marlo.user, booking=group.held[1])
    feeds = [
        open_feed(actor=user, label="Phone", now=NOW)[0]
        for user in (noor.user, marlo.user, group.ilse.user)
    ]
    off(group)
    before = [
        (feed.refresh_from_db(), feed.revision, feed_bytes(feed, now=OFF))[1:] for feed in feeds
    ]
    assert {str(event.status) for feed in feeds for event in events_for(feed.owner, now=OFF)} == {
        "CANCELLED"
    }
    back(group)
    after = [
        (feed.refresh_from_db(), feed.revision, feed_bytes(feed, now=LATER))[1:] for feed in feeds
    ]
    for (old_revision, old), (revision, new) in zip(before, after, strict=True):
        assert revision > old_revision
        assert old != new
    shown = [
        [(event.status, event.sequence) for event in events_for(feed.owner, now=LATER)]
        for feed in feeds
    ]
    assert [status for ((status, _),) in shown] == ["CONFIRMED", "CANCELLED", "CONFIRMED"]


def test_somebody_has_booked_the_instructors_freed_time_meanwhile(group):
    """Refused as "taken", changeover included, and not a row is another."""
    off(group)
    consultation(group, cast.make_student("Robin Marsh"), group.ilse, at("2027-03-14T18:00Z"))
    refused("taken", group)


def test_who_has_another_meeting_by_now_is_named_and_her_place_goes_to_the_first_in_line(group):
    """Marlo is with Wren then: he is told so, and Juno, first in line, is offered what he had instead of being told of her rank."""
    off(group)
    _, marlo, juno, otis = group.students
    consultation(group, marlo, group.wren, at("2027-03-14T17:30Z"))
    done = back(group)
    assert [(one.booking.student, one.code) for one in done.left_out] == [(marlo, "own-clash")]
    assert Booking.objects.get(meeting=group.meeting, student=marlo).standing == Standing.ENDED
    assert Booking.objects.get(standing=Standing.OFFERED).student == juno
    messages = written_at(LATER)
    (told,) = to(messages, marlo.user).values()
    assert (
        "Your place is not: another meeting has since been booked for that time." in told.body,
        told.calendar,
    ) == (True, "")
    assert {message.kind for message in messages if message.recipient == juno.user} == {
        "offer",
        "offer-reminder",
    }
    assert "position" in to(messages, otis.user)["told"].body
    assert (
        "No longer in it: Marlo Vance, level 4." in to(messages, group.ilse.user)["invitation"].body
    )


def test_a_family_with_one_child_in_and_one_out_has_one_message(group):
    """Kit is in it again; for Posy, who has another lesson by then, one more sentence says that she is not."""
    hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
    posy, kit = (
        cast.make_minor(name, "Europe/Dublin", guardian=hedda)
        for name in ("Posy Lindqvist-Reed", "Kit Lindqvist-Reed")
    )
    circle = group.make(at("2027-03-20T17:00Z"))
    for child in (posy, kit):
        group.do(waiting.book_place, child, actor=hedda, meeting=circle)
    off(group, meeting=circle)
    consultation(group, posy, group.wren, at("2027-03-20T17:00Z"))
    back(group, meeting=circle)
    (told,) = [message for message in written_at(LATER) if message.recipient == hedda]
    assert "Kit’s place is kept as it was. Posy’s place is not: another meeting" in told.body
    assert told.method == "REQUEST"


def test_a_minor_whose_consent_was_taken_back_stays_out(group):
    """Her guardian reads why; the others are in it."""
    posy = cast.make_minor(time_zone="Europe/Dublin")
    circle = group.make(at("2027-03-20T17:00Z"))
    group.do(waiting.book_place, posy, actor=posy.guardians.get(), meeting=circle)
    group.do(waiting.book_place, group.students[0], meeting=circle)
    off(group, meeting=circle)
    Guardianship.objects.update(consent_at=None, consent_wording="")
    done = back(group, meeting=circle)
    assert [(one.booking.student, one.code) for one in done.left_out] == [(posy, "consent-missing")]
    (told,) = [
        message for message in written_at(LATER) if message.recipient == posy.guardians.get()
    ]
    assert "Posy’s place is not: no guardian’s consent is on file." in told.body


def test_an_open_offer_is_made_anew_to_the_same_student(group):
    """It has had its time to answer; her rank has not changed, so she is asked first, and answers as to any offer."""
    group.do(waiting.leave_place, actor=group.admin, booking=group.held[0])
    off(group)
    back(group)
    juno = group.students[2]
    offer = Booking.objects.get(standing=Standing.OFFERED)
    assert (offer.student, offer.booked_at) == (juno, LATER)
    group.do(waiting.accept_offer, actor=juno.user, booking=offer, now=LAST)
    assert Meeting.objects.get(pk=group.meeting.pk).taken == 2
    assert WaitingPlace.objects.filter(ended_at__isnull=True).get().student == group.students[3]


def test_a_second_return_brings_back_who_was_in_it_the_second_time(group):
    """Marlo had left before it was called off again: of an earlier calling-off nothing comes back."""
    off(group)
    back(group)
    group.do(waiting.leave_place, actor=group.students[1].user, booking=group.held[1], now=LAST)
    again, then = LAST + timedelta(hours=1), LAST + timedelta(hours=2)
    off(group, now=again)
    back(group, now=then)
    assert [booking.student for booking in Booking.objects.filter(standing=Standing.HELD)] == [
        group.students[0]
    ]


def test_a_one_on_one_comes_back_with_what_its_student_wrote(group):
    """The same booking, so its intake and the policy it was made under are there."""
    noor = group.students[0]
    booking = consultation(
        group,
        noor,
        group.ilse,
        at("2027-03-16T17:00Z"),
        intake=IntakeText(questions=["Why does bar 12 buzz?"]),
    )
    off(group, meeting=booking.meeting)
    back(group, meeting=booking.meeting)
    current = Booking.objects.get(pk=booking.pk)
    assert (current.standing, current.intake.questions) == (
        Standing.HELD,
        ["Why does bar 12 buzz?"],
    )


def test_an_assessment_released_meanwhile_is_on_the_brief(group):
    """A booking ahead carries her latest one; releasing reaches only those that stand."""
    off(group)
    note = cast.make_assessment(group.students[0], group.wren, state="released", released_at=OFF)
    back(group)
    assert Booking.objects.get(pk=group.held[0].pk).assessment == note


def test_a_one_on_one_whose_student_cannot_come_stays_called_off(group):
    """Without her there is nobody to teach, so the whole is refused, with her reason."""
    noor = group.students[0]
    booking = consultation(group, noor, group.ilse, at("2027-03-16T17:00Z"))
    off(group, meeting=booking.meeting)
    consultation(group, noor, group.wren, at("2027-03-16T17:00Z"))
    assert "Noor cannot come" in refused("own-clash", group, booking.meeting).detail


def test_a_minors_one_on_one_without_consent_asks_her_guardian_for_it(group):
    """As at booking: nothing is held, and the guardian gets the request."""
    posy = cast.make_minor(time_zone="Europe/Dublin")
    booking = consultation(group, posy, group.ilse, at("2027-03-16T17:00Z"))
    off(group, meeting=booking.meeting)
    Guardianship.objects.update(consent_at=None, consent_wording="")
    with pytest.raises(Refused, match="consent-missing"):
        back(group, meeting=booking.meeting)
    assert Meeting.objects.get(pk=booking.meeting_id).status == "CANCELLED"
    assert [message.kind for message in written_at(LATER)] == ["consent"]


def test_a_one_on_one_that_its_student_cancelled_is_hers_to_book_again(group):
    """Only what was called off as a whole comes back."""
    noor = group.students[0]
    booking = consultation(group, noor, group.ilse, at("2027-03-16T17:00Z"))
    group.do(cancel_slot, actor=noor.user, booking=booking)
    refused("already-ended", group, booking.meeting)


def test_what_takes_place_has_begun_or_has_no_teacher_does_not_come_back(group):
    """Each has its code, and none leaves a row behind."""
    refused("already-done", group)
    off(group)
    refused("past", group, now=group.meeting.starts_at)
    group.do(
        dismiss_instructor,
        actor=group.admin,
        instructor=group.ilse,
        call_off_why="She moves on.",
        now=OFF,
    )
    refused("not-taught", group)


def test_a_lesson_of_a_weekly_place_that_was_left_since_does_not_come_back(group):
    """The family has given up that time."""
    noor = group.students[0]
    place = weekly_place(group.ilse, noor)
    lesson = Meeting.objects.get(weekly_place=place)
    off(group, meeting=lesson)
    group.do(leave_weekly_place, actor=noor.user, place=place, now=OFF)
    refused("already-ended", group, lesson)


def test_a_meeting_in_a_masterclass_brings_its_listeners_back(group):
    """Players and listeners are counted apart."""
    masterclass = cast.make_offering("Masterclass", Kind.MASTERCLASS, 90)
    made = cast.make_meeting(
        masterclass, group.ilse, at("2027-03-20T17:00Z"), places=1, listener_places=2
    )
    group.do(waiting.book_place, group.students[0], meeting=made)
    group.do(waiting.book_place, group.students[1], meeting=made, place_kind=PlaceKind.LISTENER)
    off(group, meeting=made)
    back(group, meeting=made)
    assert Meeting.objects.values_list("taken", "listeners_taken").get(pk=made.pk) == (1, 1)


def test_it_comes_back_at_the_wall_time_it_was_promised_for(group):
    """Called-off meetings are not retimed, so the instants are of old zone rules, here an hour off: what counts is 17:00 in Dublin."""
    off(group)
    early = {name: F(name) - timedelta(hours=1) for name in ("starts_at", "ends_at")}
    Booking.objects.update(**early)
    Meeting.objects.update(
        **early, held_until=F("held_until") - timedelta(hours=1), tzdata_version="2025b"
    )
    back(group)
    assert set(
        Booking.objects.filter(standing=Standing.HELD).values_list("starts_at", "ends_at")
    ) == {(group.meeting.starts_at, at("2027-03-14T18:00Z"))}
    assert Meeting.objects.values_list("starts_at", "tzdata_version").get() == (
        group.meeting.starts_at,
        TZDATA_VERSION,
    )
    assert all(
        "14 March 2027, 17:00–18:00, Dublin" in message.body for message in written_at(LATER)
    )
