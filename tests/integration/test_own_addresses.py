"""A room that makes an address for each meeting: nobody walks in on another."""

import re

import pytest

from accounts.models import Guardianship
from bookings.domain.errors import Refused
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.operations.booking import move_slot
from bookings.operations.meetings import change_meeting, create_meeting
from bookings.operations.rooms import change_room
from bookings.queries.barring import barring_of
from bookings.queries.calendars import events_for
from tests import cast
from tests.cast import NOW, at
from tests.school.barring import bar, booked, second_guardian, sent, unsent
from tests.school.leaving import School

TEMPLATE = "https://rooms.rowanmere.example/{token}"
MADE = re.compile(r"https://rooms\.rowanmere\.example/[A-Za-z0-9_-]{24}")


@pytest.fixture
def school(db: None) -> School:
    """Ilse's room makes an address for each meeting."""
    school = School()
    school.ilse.room = TEMPLATE
    school.ilse.save()
    cast.publish(school.ilse, cast.EVERY_DAY)
    return school


@pytest.fixture
def row(school: School) -> Guardianship:
    second_guardian(school.posy)
    return school.hedda.guardianships.get()


def address(meeting: Meeting) -> str:
    return Meeting.objects.get(pk=meeting.pk).join_address


def group(school: School, **more) -> Meeting:
    values = {"offering": school.group, "instructor": school.ilse, "title": "Hands", "places": 4}
    return school.do(create_meeting, **values, starts_at=at("2027-03-12T10:00Z"), **more)


def test_each_lesson_has_an_address_of_its_own(school: School) -> None:
    """It is random, holds no id, and is what the family's email and feed carry."""
    lessons = [
        booked(school, school.noor),
        booked(school, school.posy, "2027-03-10T09:00Z"),
    ]
    addresses = [address(lesson.meeting) for lesson in lessons]
    assert len({*addresses}) == 2
    assert all(MADE.fullmatch(one) for one in addresses)
    invitation = OutboxMessage.objects.get(recipient=school.hedda, kind="invitation")
    assert f"Join here: {addresses[1]}" in invitation.body
    assert addresses[0] not in invitation.body + invitation.calendar
    (event,) = events_for(school.hedda, now=NOW)
    assert event.join_address == addresses[1]


def test_a_group_meeting_gets_one_address(school: School) -> None:
    """Unless it has a room of its own, which may hold no braces; an empty field keeps the address
    that was made, and takes a new one instead of another room.
    """
    meeting = group(school)
    made = address(meeting)
    assert MADE.fullmatch(made)
    school.do(change_meeting, meeting=meeting, join_address="")
    assert address(meeting) == made
    school.do(change_meeting, meeting=meeting, join_address="https://rooms.rowanmere.example/hall")
    school.do(change_meeting, meeting=meeting, join_address="")
    assert MADE.fullmatch(address(meeting)) and address(meeting) != made
    school.refused("invalid", change_meeting, meeting=meeting, join_address=TEMPLATE)


def test_another_instructor_another_address(school: School) -> None:
    """A lesson that moves within one instructor's hours keeps its address."""
    lesson = booked(school, school.noor)
    wren = cast.make_instructor("Wren Halloway")
    wren.room = "https://rooms.rowanmere.example/wren-{token}"
    wren.save()
    cast.teaches(wren, school.lesson)
    cast.publish(wren, cast.EVERY_DAY)
    before = address(lesson.meeting)
    school.do(move_slot, booking=lesson, instructor=school.ilse, starts_at=at("2027-03-09T11:00Z"))
    assert address(lesson.meeting) == before
    lesson = Booking.objects.get(pk=lesson.pk)
    school.do(move_slot, booking=lesson, instructor=wren, starts_at=at("2027-03-09T11:00Z"))
    assert re.fullmatch(
        r"https://rooms\.rowanmere\.example/wren-[\w-]{24}", address(lesson.meeting)
    )


def test_a_new_template_reaches_the_meetings_ahead(school: School) -> None:
    """Each with a token of its own, told beside its date; saved again it changes nothing."""
    school.ilse.room = "https://rooms.rowanmere.example/ilse"
    school.ilse.save()
    lessons = [
        booked(school, school.noor),
        booked(school, school.noor, "2027-03-10T09:00Z"),
    ]
    own = group(school, join_address="https://rooms.rowanmere.example/hall")
    sent(school.noor.user)
    changed = school.do(change_room, instructor=school.ilse, room=TEMPLATE)
    addresses = [address(lesson.meeting) for lesson in lessons]
    assert len({*addresses}) == 2
    assert all(MADE.fullmatch(one) for one in addresses)
    assert address(own) == "https://rooms.rowanmere.example/hall"
    assert len(changed.meetings) == 2
    told = next(message for message in unsent(school.noor.user) if message.kind == "told")
    assert all(f"Join here: {one}" in told.body for one in addresses)
    assert "{token}" not in "".join(message.body for message in unsent(school.noor.user))
    assert school.do(change_room, instructor=school.ilse, room=TEMPLATE).meetings == []


def test_a_room_with_other_braces_is_refused(school: School) -> None:
    """Nothing is written."""
    with pytest.raises(Refused) as caught:
        school.do(change_room, instructor=school.ilse, room=TEMPLATE + "{x}")
    assert caught.value.code == "invalid"
    school.ilse.refresh_from_db()
    assert school.ilse.room == TEMPLATE


def test_a_barred_guardian_s_address_opens_no_lesson(school: School, row: Guardianship) -> None:
    """The child's lesson has a new address, which the second guardian and the instructor get."""
    lesson = booked(school, school.posy)
    sent(school.hedda)
    before = address(lesson.meeting)
    assert barring_of(row, now=NOW).known_rooms == []
    bar(school, row)
    after = address(lesson.meeting)
    assert MADE.fullmatch(after) and after != before
    tarn = Guardianship.objects.exclude(pk=row.pk).get(student=school.posy).guardian
    assert any(after in message.body for message in unsent(tarn))
    assert any("address" in message.title for message in unsent(school.ilse.user))
    assert not any(after in message.body + message.calendar for message in unsent(school.hedda))


def test_a_room_for_all_is_named_to_the_admin(school: School, row: Guardianship) -> None:
    """It does not change by itself: the admin reads which lessons are held there."""
    school.ilse.room = "https://rooms.rowanmere.example/ilse"
    school.ilse.save()
    lesson = booked(school, school.posy)
    assert barring_of(row, now=NOW).known_rooms == [lesson]
    bar(school, row)
    assert address(lesson.meeting) == "https://rooms.rowanmere.example/ilse"
