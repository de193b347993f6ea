"""The exchanges that RFC 5546 prints in section 4, played by our operations, our writer of
invitations and our reader of answers.

The printed story of June 1997 begins at our NOW: its 11 June is our first day. UID, addresses and
times are ours; METHOD, SEQUENCE, STATUS, PARTSTAT and the order of DTSTAMPs are compared as
printed. The misprints of 4.2.1 (an hour of seven digits, CUTYPE=ROOM:conf_big), 4.2.4 (two UIDs)
and 4.2.9 (;mailto:) touch none of these.
"""

from datetime import timedelta

import pytest

from bookings.models import Booking, MoveRequest, OutboxMessage
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.calling_off import call_off
from bookings.operations.meetings import change_meeting
from bookings.operations.move_requests import accept_move_request, refuse_move_request
from bookings.operations.places import book_place, leave_place
from bookings.queries.calendars import meeting_file
from tests.integration.printed_story import CIRCLE, DAY, LESSON, answer_of, ignored, sent, story
from tests.letters import value

__all__ = ["story"]

pytestmark = pytest.mark.django_db


def test_4_1_1_to_4_1_3_a_published_event_changes_and_is_cancelled(story):
    """PUBLISH at SEQUENCE 0, 1, then cancelled at 2: one UID, no ATTENDEE (section 3.2.1).

    Our file of an ended one says STATUS.
    """
    meeting = story.grouped()
    published = [meeting_file(meeting, story.b.user).decode()]
    meeting = story.do(
        change_meeting, day=1, actor=story.admin, meeting=meeting, starts_at=CIRCLE + DAY
    )
    published.append(meeting_file(meeting, story.b.user).decode())
    meeting = story.do(
        call_off, day=2, actor=story.admin, meeting=meeting, why="The hall is closed."
    )
    published.append(meeting_file(meeting, story.b.user).decode())
    printed = [
        ("PUBLISH", "0", "CONFIRMED"),
        ("PUBLISH", "1", "CONFIRMED"),
        ("PUBLISH", "2", "CANCELLED"),
    ]
    assert [
        (value(one, "METHOD"), value(one, "SEQUENCE"), value(one, "STATUS")) for one in published
    ] == printed
    assert {value(one, "UID") for one in published} == {str(meeting.uid)}
    assert not any("ATTENDEE" in one or "VALARM" in one for one in published)
    stamps = [value(one, "DTSTAMP") for one in published]
    assert stamps == sorted(set(stamps))


def test_4_2_1_to_4_2_3_a_request_is_answered_and_updated(story):
    """REQUEST at SEQUENCE 0; B's REPLY of ACCEPTED changes no SEQUENCE; the update goes to all at
    SEQUENCE 1 and asks anew.
    """
    meeting = story.grouped()
    booking = meeting.bookings.get(student=story.b)
    story.hears(meeting, ["SEQUENCE:0", "REQUEST-STATUS:2.0;Success"], day=1)
    assert (answer_of(booking), ignored()) == (("ACCEPTED", "HELD"), {})
    story.do(
        change_meeting,
        day=2,
        actor=story.admin,
        meeting=meeting,
        starts_at=CIRCLE - timedelta(hours=2),
    )
    for student in (story.b, story.c, story.d):
        update = ("REQUEST", "1", "CONFIRMED", "NEEDS-ACTION")
        assert [one[:3] for one in sent(meeting, student)] == [
            ("REQUEST", "0", "CONFIRMED"),
            update[:3],
        ]
        assert sent(meeting, student)[1] == update


def test_4_2_4_a_counter_is_accepted(story):
    """REQUEST at 0, COUNTER at 0 with the time that suits B better, and the new REQUEST at 1; until
    a person says yes nothing moves.
    """
    booking = story.taught()
    meeting = booking.meeting
    wanted = [
        f"DTSTART:{LESSON - timedelta(hours=3):%Y%m%dT%H%M%SZ}",
        f"DTEND:{LESSON:%Y%m%dT%H%M%SZ}",
        "SEQUENCE:0",
    ]
    story.hears(
        meeting,
        ["SUMMARY:Discuss the Merits", *wanted, "COMMENT:This time works much better"],
        day=1,
        method="COUNTER",
    )
    assert [one[:3] for one in sent(meeting, story.b)] == [("REQUEST", "0", "CONFIRMED")]
    story.do(accept_move_request, day=2, actor=story.chair.user, request=MoveRequest.objects.get())
    assert [one[:3] for one in sent(meeting, story.b)] == [
        ("REQUEST", "0", "CONFIRMED"),
        ("REQUEST", "1", "CONFIRMED"),
    ]
    assert Booking.objects.get(pk=booking.pk).starts_at == LESSON - timedelta(hours=3)


@pytest.mark.parametrize("is_group", [False, True])
def test_4_2_4_a_counter_is_declined(story, is_group):
    """DECLINECOUNTER echoes UID and SEQUENCE 0; of a lesson a person says no, of a group the
    school's time stands at once.
    """
    meeting = story.grouped() if is_group else story.taught().meeting
    story.hears(
        meeting,
        [f"DTSTART:{LESSON - timedelta(hours=3):%Y%m%dT%H%M%SZ}", "SEQUENCE:0"],
        day=1,
        method="COUNTER",
    )
    if not is_group:
        story.do(
            refuse_move_request, day=2, actor=story.chair.user, request=MoveRequest.objects.get()
        )
    assert [one[:2] for one in sent(meeting, story.b)] == [
        ("REQUEST", "0"),
        ("DECLINECOUNTER", "0"),
    ]
    meeting.refresh_from_db()
    assert (meeting.sequence, meeting.starts_at) == (0, CIRCLE if is_group else LESSON)


@pytest.mark.parametrize(
    ("attendee", "sender", "reason"),
    [
        ('DELEGATED-TO="mailto:e@example.com";PARTSTAT=DELEGATED', None, "malformed"),  # 4.2.5
        (
            'DELEGATED-FROM="mailto:c@example.com";PARTSTAT=ACCEPTED',
            "e@example.com",
            "unknown-sender",
        ),  # 4.2.6
        (
            'DELEGATED-FROM="mailto:c@example.com";PARTSTAT=DECLINED',
            "e@example.com",
            "unknown-sender",
        ),  # 4.2.7
        ("PARTSTAT=ACCEPTED", "f@example.com", "unknown-sender"),  # 4.2.8
    ],
)
def test_4_2_5_to_4_2_8_nobody_passes_a_place_on(story, attendee, sender, reason):
    """A delegation, a delegate's answer and a forwarded invitation's change nothing: section 3.2.3
    lets an organizer not honour them.
    """
    meeting = story.grouped()
    story.hears(
        meeting,
        ["SEQUENCE:0", "REQUEST-STATUS:2.0;Success"],
        day=1,
        attendee=attendee,
        sender=sender,
    )
    booking = meeting.bookings.get(student=story.b)
    assert (answer_of(booking), ignored(), meeting.bookings.count()) == (
        ("ACCEPTED", "HELD"),
        {reason: 1},
        3,
    )


def test_4_2_9_a_group_event_is_cancelled(story):
    """CANCEL with STATUS:CANCELLED at SEQUENCE 1 to every attendee."""
    meeting = story.grouped()
    story.do(call_off, day=2, actor=story.admin, meeting=meeting, why="It is raining.")
    for student in (story.b, story.c, story.d):
        assert [one[:3] for one in sent(meeting, student)] == [
            ("REQUEST", "0", "CONFIRMED"),
            ("CANCEL", "1", "CANCELLED"),
        ]


def test_4_2_10_an_attendee_is_removed(story):
    """B: CANCEL at SEQUENCE 1 without STATUS, for the meeting stands.

    The printed REQUEST at 2 tells the others who is left: ours name nobody else (section 6.3), so C
    and D hear nothing, and a later change reaches everybody above what they have.
    """
    meeting = story.grouped()
    booking = meeting.bookings.get(student=story.b)
    story.do(leave_place, day=2, actor=story.admin, booking=booking, reason="You are off the hook.")
    assert [one[:3] for one in sent(meeting, story.b)] == [
        ("REQUEST", "0", "CONFIRMED"),
        ("CANCEL", "1", None),
    ]
    assert [one[:2] for one in sent(meeting, story.c)] == [("REQUEST", "0")]
    story.do(change_meeting, day=3, actor=story.admin, meeting=meeting, starts_at=CIRCLE + DAY)
    assert [one[:2] for one in sent(meeting, story.c)] == [("REQUEST", "0"), ("REQUEST", "1")]
    assert [one[:2] for one in sent(meeting, story.b)] == [("REQUEST", "0"), ("CANCEL", "1")]
    story.do(
        book_place, day=4, actor=story.b.user, student=story.b, meeting=meeting, place_kind="player"
    )
    assert sent(meeting, story.b)[2][:3] == ("REQUEST", "2", "CONFIRMED")


def test_4_4_2_to_4_4_4_one_lesson_moves_and_another_is_cancelled(story):
    """As printed each change rises: moved at SEQUENCE 1, cancelled at 2; one UID, no RECURRENCE-ID,
    for each lesson is its own event.
    """
    booking = story.taught()
    moved = story.do(move_slot, day=1, actor=story.b.user, booking=booking, starts_at=LESSON + DAY)
    story.do(cancel_slot, day=2, actor=story.b.user, booking=moved)
    told = [
        ("REQUEST", "0", "CONFIRMED"),
        ("REQUEST", "1", "CONFIRMED"),
        ("CANCEL", "2", "CANCELLED"),
    ]
    assert [one[:3] for one in sent(booking.meeting, story.b)] == told
    assert not OutboxMessage.objects.filter(calendar__contains="RECURRENCE-ID").exists()
