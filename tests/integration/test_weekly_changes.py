"""Leaving and moving weekly places, siblings one after the other, and what a changed term leaves
outside.
"""

from datetime import date

import pytest

from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage, Term
from bookings.operations.terms import change_term, publish_term
from bookings.operations.weekly import leave_weekly_place, move_weekly_place
from bookings.queries.weekly import options_for
from bookings.queries.weekly_moves import next_place, options_instead
from tests import cast
from tests.cast import at
from tests.school.weekly import NOW, TUESDAY, School, refused, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def test_leaving_ends_the_lessons_beyond_the_notice(school):
    """On Monday 1 March at 17:00 the lesson of the next day stays and is said; the five others end
    with their reminders; one letter.
    """
    place = school.take()
    now = at("2027-03-01T17:00Z")
    left = write(lambda: leave_weekly_place(actor=school.marlo.user, place=place, now=now), now=now)
    assert (left.ended_at, left.ended_why) == (now, Ended.LEFT)
    ahead = Booking.objects.filter(starts_at__gt=now).order_by("starts_at")
    assert [booking.standing for booking in ahead] == [Standing.HELD, *[Standing.ENDED] * 5]
    assert Meeting.objects.filter(status=MeetingStatus.CANCELLED).count() == 5
    letter = told(school.marlo.user)[-1]
    assert "Your weekly place has ended" in letter.body
    assert (
        "The cancellation deadline for these has passed, so they stay booked:\n"
        "  Tue 2 March 11:30, New York"
    ) in letter.body
    waiting = OutboxMessage.objects.filter(recipient=school.marlo.user, state="due", due_at__gt=now)
    assert {message.meeting.wall_on for message in waiting} == {date(2027, 3, 2)}
    refused(
        "already-ended", lambda: leave_weekly_place(actor=school.marlo.user, place=place, now=now)
    )


def test_a_place_without_lessons_ahead_can_be_left(school):
    """After the last lesson nothing ends but the place."""
    place = school.take()
    now = at("2027-04-20T09:00Z")
    assert leave_weekly_place(actor=school.marlo.user, place=place, now=now).ended_at == now
    assert not Booking.objects.filter(standing=Standing.ENDED).exists()


def test_a_sibling_is_offered_the_time_that_follows(school):
    """Asked for what follows Kit's 16:30, Lark is offered 17:00 and nothing else."""
    hedda, kit, lark = school.siblings()
    place = school.take(kit, school.short)
    found = options_for(term=school.term, offering=school.short, student=lark, after=place, now=NOW)
    assert [(option.at.weekday, option.at.minute) for option, _ in found.options] == [
        (TUESDAY, 17 * 60)
    ]
    assert next_place(place, hedda, now=NOW) is None
    assert next_place(place, hedda, now=NOW) != school.take(lark, school.short, wall_at=17 * 60)
    assert next_place(place, hedda, now=NOW).student == lark


def test_moving_one_sibling_moves_the_pair_with_one_message(school):
    """TRADE scenario 24: the pair is proposed together, both move in one step, the guardian reads
    one letter.
    """
    hedda, kit, lark = school.siblings()
    first, second = school.take(kit, school.short), school.take(lark, school.short, wall_at=17 * 60)
    OutboxMessage.objects.all().delete()
    found = options_instead(place=first, user=hedda, now=NOW)
    pairs = {(mine.at.minute, theirs.at.minute) for mine, theirs in found.options}
    assert (18 * 60, 18 * 60 + 30) in pairs
    assert (17 * 60, 17 * 60 + 30) in pairs  # what the two hold now is free for them
    places = write(
        lambda: move_weekly_place(
            actor=hedda,
            place=first,
            weekday=TUESDAY,
            wall_at=17 * 60,
            next_wall_at=17 * 60 + 30,
            now=NOW,
        ),
        now=NOW,
    )
    assert [(place.student, place.wall_at, len(school.lessons(place))) for place in places] == [
        (kit, 1020, 12),
        (lark, 1050, 12),
    ]
    assert school.lessons(first) == school.lessons(second) == []
    (letter,) = told(hedda)
    assert (
        letter.title
        == "A weekly place has moved: Short harp lesson with I. Quarrow, Tuesdays 17:30, Dublin"
    )
    assert "Kit has a weekly place" in letter.body
    assert "Lark has a weekly place" in letter.body
    assert len(told(school.ilse.user)) == 1


def test_a_pair_moves_as_one_or_not_at_all(school):
    """The second sibling's new time is taken on one date: neither moves; what they had stands."""
    hedda, kit, lark = school.siblings()
    first, second = school.take(kit, school.short), school.take(lark, school.short, wall_at=17 * 60)
    cast.make_meeting(school.short, school.ilse, at("2027-03-02T18:30Z"))
    refused(
        "term-dates",
        lambda: write(
            lambda: move_weekly_place(
                actor=hedda,
                place=first,
                weekday=TUESDAY,
                wall_at=18 * 60,
                next_wall_at=18 * 60 + 30,
                now=NOW,
            ),
            now=NOW,
        ),
    )
    assert len(school.lessons(first)) == len(school.lessons(second)) == 12
    refused(
        "conflict",
        lambda: move_weekly_place(
            actor=hedda, place=second, weekday=1, wall_at=1080, next_wall_at=1110, now=NOW
        ),
    )


def test_a_lesson_whose_notice_has_passed_keeps_its_week(school):
    """Moved on Monday from Tuesday 16:30 to 18:00: the next day's lesson stays at 16:30, and the
    new place begins a week later.
    """
    place = school.take()
    now = at("2027-03-01T17:00Z")
    (moved,) = move_weekly_place(
        actor=school.marlo.user, place=place, weekday=TUESDAY, wall_at=18 * 60, now=now
    )
    assert school.lessons(moved)[0] == date(2027, 3, 9)
    assert school.lessons(place)[-1] == date(2027, 3, 2)


def test_terms_are_told_apart_by_name(school):
    """A second term with the same name is refused by the guard; the first stays."""
    again = {"first_on": date(2027, 5, 1), "last_on": date(2027, 6, 1), "lessons_promised": 4}
    refused(
        "invalid",
        lambda: write(
            lambda: publish_term(actor=school.dag, name="Spring 2027", now=NOW, **again), now=NOW
        ),
    )


def test_a_changed_term_lists_the_lessons_it_leaves_outside(school):
    """A new break over 2 March keeps and lists that lesson; a newer version is not overwritten."""
    school.take()
    changed = change_term(
        actor=school.dag,
        term=school.term,
        version=1,
        breaks=[(date(2027, 3, 1), date(2027, 3, 7), "")],
        now=NOW,
    )
    assert [meeting.wall_on for meeting in changed.left_outside] == [date(2027, 3, 2)]
    assert not Meeting.objects.filter(status=MeetingStatus.CANCELLED).exists()
    refused(
        "stale",
        lambda: change_term(actor=school.dag, term=school.term, version=1, name="Spring", now=NOW),
    )
    refused(
        "invalid",
        lambda: change_term(actor=school.dag, term=school.term, last_on=date(2027, 3, 3), now=NOW),
    )
    assert Term.objects.get().version == 2
