"""Hours that an instructor cannot teach: each meeting is called off, covered or moved, and each
family gets one email.
"""

from datetime import timedelta

import pytest

from bookings.domain.clearing import Decision
from bookings.domain.zones import zone
from bookings.models import (
    AuditRow,
    Booking,
    Meeting,
    OutboxMessage,
    OwedLesson,
    SentSequence,
    Term,
)
from tests.integration.cleared import (
    CALL_OFF,
    COVER,
    MOVE,
    NO_CHARGE,
    PROPOSE,
    SEVEN,
    STRETCH,
    clear,
    emails,
)
from tests.integration.nothing_written import refused
from tests.school.covering import CoveringSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return CoveringSchool()


def test_a_lesson_alone_is_told_by_the_email_that_cancels_it_in_the_calendar(school):
    """One email: readable, with the CANCEL in it. Nobody is charged."""
    lesson = school.book(school.noor, 13)
    clear(school, lesson, why="The harp room is closed.")
    (email,) = emails(school.noor.user)
    assert email.method == "CANCEL"
    assert NO_CHARGE in email.body
    assert "Why: The harp room is closed." in email.body
    lesson.refresh_from_db()
    assert (lesson.standing, lesson.ended_why) == ("ENDED", "called-off")
    (own,) = emails(school.ilse.user)
    assert own.method == "CANCEL"


def test_a_family_gets_one_readable_email_however_many_lessons_and_children(school):
    """Two children and three lessons: one email says it all, and a bare one cancels each entry."""
    lessons = [
        school.book(school.posy, 10),
        school.book(school.kit, 11),
        school.book(school.posy, 14),
    ]
    clear(school, *lessons)
    told, *bare = emails(school.hedda)
    assert (told.method, told.title) == (
        "",
        "Called off: 3 lessons, from Fri 12 March 10:00, Dublin",
    )
    assert told.body.count("Posy’s lesson is called off") == 2
    assert told.body.count("Kit’s lesson is called off") == 1
    assert told.body.count("none of them counts as a missed lesson") == 1
    assert told.body.count("You are owed this lesson; book it by 10 June 2027") == 3
    assert [one.method for one in bare] == ["CANCEL"] * 3
    assert all(one.calendar.count("BEGIN:VEVENT") == 1 for one in bare)
    assert all("charged" not in one.body for one in bare)
    own, *entries = emails(school.ilse.user)
    assert own.title == "3 of your meetings have changed"
    assert [one.method for one in entries] == ["CANCEL"] * 3


def test_a_lesson_that_stands_in_no_calendar_is_told_without_a_calendar_email(school):
    """The family was never sent the lessons: one email, and nothing bare."""
    lessons = [school.book(school.posy, 10), school.book(school.kit, 11)]
    SentSequence.objects.filter(recipient=school.hedda).delete()
    clear(school, *lessons)
    (told,) = emails(school.hedda)
    assert "calendar" not in told.body


def test_what_is_covered_called_off_and_moved_is_told_to_a_family_at_once(school):
    """Three lessons of one family, three remedies, one readable email."""
    covered = school.book(school.posy, 13)
    off, moved = school.book(school.kit, 10), school.book(school.posy, 15)
    done = clear(
        school,
        Decision(covered.meeting_id, COVER, school.wren.pk),
        Decision(off.meeting_id, CALL_OFF),
        Decision(moved.meeting_id, MOVE),
    )
    told, *bare = emails(school.hedda)
    assert told.title == "Changed: 3 lessons, from Fri 12 March 10:00, Dublin"
    assert "Wren Halloway teaches Posy’s lesson instead of Ilse Quarrow" in told.body
    assert "Kit’s lesson is called off" in told.body
    assert "Posy’s lesson has moved from Fri 12 March 15:00, Dublin" in told.body
    assert told.body.count("/decline/") == 2
    assert sorted(one.method for one in bare) == ["CANCEL", "REQUEST", "REQUEST"]
    moved.refresh_from_db()
    assert moved.starts_at == next(one.starts_at for one in done.decisions if one.remedy == MOVE)
    own, *_ = emails(school.ilse.user)
    for heading in ("Called off:", "With a substitute:", "Moved:"):
        assert heading in own.body
    assert "as a substitute" in emails(school.wren.user)[0].body


def test_a_lesson_moves_to_the_first_humane_start_after_the_stretch(school):
    """Ilse teaches around the clock; the burden of the early hours is 8 and more. Two lessons do
    not meet. Source of the curve: TRADE.md 5.
    """
    first, second = school.book(school.noor, 13), school.book(school.posy, 14)
    clear(school, Decision(first.meeting_id, MOVE), Decision(second.meeting_id, MOVE))
    first.refresh_from_db()
    second.refresh_from_db()
    starts = sorted([first.starts_at, second.starts_at])
    assert starts[0] >= STRETCH.ends_at
    assert starts[1] - starts[0] >= timedelta(minutes=30)
    for lesson in (first, second):
        local = lesson.starts_at.astimezone(zone(lesson.student.zone))
        assert 7 <= local.hour < 22
        assert lesson.standing == "HELD"
        assert lesson.decline_by is not None


def test_without_a_humane_start_a_lesson_is_left_to_be_proposed(school):
    """Ilse has no other hours: the lesson is called off and the family reads what comes next."""
    lesson = school.book(school.noor, 13)
    school.ilse.week.windows.all().delete()
    done = clear(school, Decision(lesson.meeting_id, MOVE))
    assert [one.remedy for one in done.decisions] == [PROPOSE]
    (email,) = emails(school.noor.user)
    assert "Ilse Quarrow will propose other times." in email.body
    assert NO_CHARGE in email.body


def test_a_make_up_lesson_does_not_move_past_its_use_by_date(school):
    """The day after is too late, so it is left to be proposed."""
    lesson = school.book(school.noor, 13)
    day = STRETCH.starts_at.date()
    term = Term.objects.create(name="Spring", first_on=day, last_on=day, lessons_promised=1)
    owed = OwedLesson.objects.create(
        term=term,
        reason="From another school.",
        student=school.noor,
        offering=school.offering,
        minutes=25,
        cause="carried-in",
        use_by=day,
        owed_at=SEVEN,
    )
    Booking.objects.filter(pk=lesson.pk).update(makes_up=owed)
    (done,) = clear(school, Decision(lesson.meeting_id, MOVE)).decisions
    assert done.remedy == PROPOSE


def test_called_off_twice_is_stale_and_nobody_is_told_again(school):
    """The same form sent a second time: nothing of it is there any more."""
    lesson = school.book(school.noor, 13)
    clear(school, lesson)
    count = OutboxMessage.objects.count()
    refused("stale", lambda: clear(school, lesson, now=SEVEN + timedelta(minutes=1)))
    assert OutboxMessage.objects.count() == count


def test_a_stretch_without_meetings_is_only_closed(school):
    """Nothing is decided, nothing is told."""
    done = clear(school)
    assert (done.decisions, done.called_off, done.messages) == ([], [], [])
    assert AuditRow.objects.get().verb == "went away"


def test_a_stretch_in_the_past_is_refused(school):
    """Its meetings are for the register."""
    lesson = school.book(school.noor, 13)
    refused("past", lambda: clear(school, lesson, now=STRETCH.ends_at))


def test_a_meeting_that_has_begun_stays(school):
    """At 13:00 the first of two lessons begins: only the second is called off."""
    first, second = school.book(school.noor, 13), school.book(school.posy, 14)
    begun = first.starts_at
    refused("stale", lambda: clear(school, first, second, now=begun))
    clear(school, second, now=begun)
    first.refresh_from_db()
    assert first.standing == "HELD"


def test_what_was_booked_since_the_preview_makes_it_stale(school):
    """Nobody calls off more than they have read."""
    first = school.book(school.noor, 13)
    school.book(school.posy, 14)
    refused("stale", lambda: clear(school, first))
    second = Booking.objects.get(student=school.posy)
    refused("stale", lambda: clear(school, first, second, seen="what was shown"))


def test_a_substitute_who_cannot_take_the_lesson_refuses_the_whole_act(school):
    """Wren does not teach in the morning; the other lesson stays as well."""
    first, second = school.book(school.noor, 9), school.book(school.posy, 13)
    refused(
        "plan-outdated",
        lambda: clear(school, second, Decision(first.meeting_id, COVER, school.wren.pk)),
    )
    assert not Meeting.objects.filter(status="CANCELLED").exists()


def test_a_rehearsal_tells_every_email_and_writes_nothing(school):
    """What is shown before is what leaves after."""
    lessons = [school.book(school.posy, 10), school.book(school.kit, 11)]
    before = OutboxMessage.objects.count(), AuditRow.objects.count()
    rehearsed = clear(school, *lessons, is_rehearsal=True)
    assert (OutboxMessage.objects.count(), AuditRow.objects.count()) == before
    assert not Meeting.objects.filter(status="CANCELLED").exists()
    done = clear(school, *lessons)
    assert [(one.recipient, one.title, one.body) for one in rehearsed.messages] == [
        (one.recipient, one.title, one.body) for one in done.messages
    ]
