"""Taking a weekly place by the operation itself: all lessons or none, what is skipped, who is told
what.
"""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Standing
from bookings.models import AuditRow, Booking, Feed, OutboxMessage, WeeklyPlace
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.days_away import go_away
from bookings.operations.weekly import leave_weekly_place
from tests import cast
from tests.cast import at
from tests.school.weekly import NOW, School, refused, told

pytestmark = pytest.mark.django_db

HALF_TERM = date(2027, 2, 16)


@pytest.fixture
def school() -> School:
    return School()


def test_a_place_makes_a_lesson_on_every_date(school):
    """TRADE scenario 1: 12 lessons, none on 16 February, first on 12 January, last on 6 April, at
    16:30 in Dublin throughout.
    """
    place = school.take()
    dates = school.lessons(place)
    assert (len(dates), dates[0], dates[-1]) == (12, date(2027, 1, 12), date(2027, 4, 6))
    assert date(2027, 2, 16) not in dates
    meeting = place.meetings.last()
    assert (meeting.wall_at.isoformat(), meeting.zone, meeting.starts_at) == (
        "16:30:00",
        "Europe/Dublin",
        at("2027-04-06T15:30Z"),
    )
    assert meeting.held_until - meeting.ends_at == timedelta(minutes=10)
    assert {booking.standing for booking in Booking.objects.all()} == {Standing.HELD}
    assert set(Booking.objects.values_list("policy", flat=True)) == {place.policy_id}


def test_a_clash_in_week_seven_leaves_nothing(school):
    """All lessons or none: the refusal names the one date and its rule; no row is written."""
    cast.make_meeting(school.lesson, school.ilse, at("2027-03-02T16:00Z"))
    refusal = refused("term-dates", school.take)
    assert refusal.data["dates"] == [
        {
            "on": "2027-03-02",
            "code": "taken",
            "detail": "That time is not free: choose another time.",
        }
    ]
    assert "2 March" in refusal.detail
    assert len(school.lessons(school.take(without=[date(2027, 3, 2)]))) == 11


def test_two_students_at_one_weekly_time(school):
    """The second is told every date that the first holds."""
    school.take()
    refusal = refused("term-dates", lambda: school.take(cast.make_student()))
    assert len(refusal.data["dates"]) == 12


def test_days_away_are_skipped(school):
    """Nothing on the days Ilse is away; the other eleven stand."""
    go_away(
        actor=school.ilse.user,
        instructor=school.ilse,
        first_on=date(2027, 3, 9),
        last_on=date(2027, 3, 9),
        time_zone="Europe/Dublin",
        now=NOW,
    )
    dates = school.lessons(school.take())
    assert len(dates) == 11
    assert date(2027, 3, 9) not in dates


@pytest.mark.parametrize(
    "what", ["a consultation", "a level not taught", "a term that is over", "no consent"]
)
def test_what_has_no_weekly_place(school, what):
    """A consultation, a level they do not teach, a term that is over, a minor without consent: each
    by its own code.
    """
    if what == "a consultation":
        refused("wrong-kind", lambda: school.take(offering=cast.make_offering()))
    elif what == "a level not taught":
        school.ilse.teaches.update(highest_level=2)
        refused("not-taught", school.take)
    elif what == "a term that is over":
        refused("term-dates", lambda: school.take(now=at("2027-04-20T09:00Z")))
    else:
        with pytest.raises(Refused) as caught:
            school.take(cast.make_minor(consent=False))
        assert caught.value.code == "consent-missing"
        assert not WeeklyPlace.objects.exists()


def test_one_message_lists_every_date_on_both_clocks(school):
    """Twelve lessons, one letter to the student and one to the instructor, no calendar part;
    reminders for each lesson.
    """
    school.take()
    (letter,) = told(school.marlo.user)
    assert letter.title == "A weekly place: Harp lesson with I. Quarrow, Tuesdays 16:30, Dublin"
    assert "  Tue 12 January 11:30, New York; Tue 12 January 16:30, Dublin\n" in letter.body
    assert letter.body.count("New York; ") == 12
    assert letter.calendar == ""
    assert (
        "From 16 March your lesson starts at 12:30, not 11:30, in New York, until 23 March; from "
        "30 March it starts at 11:30 again."
    ) in letter.body
    (ilses,) = told(school.ilse.user)
    assert (
        "Marlo Vance, level 4, has a weekly place with you: Harp lesson, Tuesdays 16:30, Dublin, "
        "Spring 2027."
    ) in ilses.body
    assert not told(school.marlo.user, "invitation")
    assert (
        len(told(school.marlo.user, "reminder-24h"))
        == len(told(school.marlo.user, "reminder-1h"))
        == 12
    )
    assert AuditRow.objects.filter(thing="weeklyplace").count() == 1


def test_a_run_of_shifts_is_told_once_before_the_first(school):
    """TRADE scenario 2: one message, a week before 16 March, and none of its own for 23 or 30
    March.
    """
    school.take()
    (shift,) = told(school.marlo.user, "shift")
    assert shift.due_at == at("2027-03-09T16:30Z")
    assert shift.title == "New local time from 16 March: Harp lesson with I. Quarrow"
    assert (
        "From 16 March your lesson starts at 12:30, not 11:30, in New York, until 23 March"
        in shift.body
    )
    assert not told(school.ilse.user, "shift")


def test_a_shift_within_a_week_is_told_by_the_first_letter_alone(school):
    """Taken on 10 March, the shift of 16 March stands in the letter and in no second one; quiet
    hours are kept for a later one.
    """
    school.take(now=at("2027-03-10T09:00Z"))
    (letter,) = told(school.marlo.user)
    assert (
        "From 30 March your lesson starts at 11:30, not 12:30, in New York, until the end of the "
        "term on 6 April."
    ) in letter.body
    (shift,) = told(school.marlo.user, "shift")
    assert shift.due_at == at("2027-03-23T15:30Z")
    tenzin = cast.make_student("Tenzin Orlo", "Asia/Kathmandu")
    school.take(tenzin, wall_at=17 * 60 + 30, now=at("2027-03-10T09:00Z"))
    (shift,) = told(tenzin.user, "shift")  # 22:15 in Kathmandu on 23 March is too late in the day
    assert shift.due_at == at("2027-03-24T02:15Z")


def test_a_guardian_is_told_of_their_child(school):
    """The letter goes to the guardian, names the child by their first name, and the instructor sees
    no surname.
    """
    hedda, kit, _ = school.siblings()
    school.take(kit, school.short)
    (letter,) = told(hedda)
    assert (
        "Kit has a weekly place: Short harp lesson with I. Quarrow, Tuesdays 16:30, Dublin, "
        "Spring 2027."
    ) in letter.body
    assert "Lindqvist" not in told(school.ilse.user)[0].body


def test_the_feeds_of_both_are_revised(school):
    """The lessons reach subscribed calendars: the student's feed and the instructor's each get a
    new revision.
    """
    feeds = [
        Feed.objects.create(
            owner=user, label="Phone", secret_digest=str(user.pk), revised_at=NOW, opened_at=NOW
        )
        for user in (school.marlo.user, school.ilse.user)
    ]
    school.take()
    for feed in feeds:
        before, _ = feed.revision, feed.refresh_from_db()
        assert feed.revision > before


def test_one_lesson_moves_and_ends_like_any_other(school):
    """A lesson of the place is moved to another hour, another is cancelled; its reminders go with
    it, the place stays.
    """
    place = school.take()
    first, second, *_ = Booking.objects.order_by("starts_at")
    moved = move_slot(
        actor=school.marlo.user, booking=first, starts_at=at("2027-01-12T18:00Z"), now=NOW
    )
    assert moved.meeting.weekly_place_id == place.pk
    cancel_slot(actor=school.marlo.user, booking=second, now=NOW)
    assert len(school.lessons(place)) == 11
    due = OutboxMessage.objects.filter(
        kind__startswith="reminder", state="due", meeting=second.meeting
    )
    assert not due.exists()
    assert WeeklyPlace.objects.get().ended_at is None


def test_taking_a_place_has_a_fixed_price(school):
    """Twelve lessons cost the queries of one: locks, rules, one insert for each table, one for all
    mail.
    """
    tuesdays = [date(2027, 1, 12) + timedelta(weeks=week) for week in range(13)]
    costs = {}
    for student, given_up in ((school.marlo, tuesdays[1:]), (cast.make_student(), [])):
        with CaptureQueriesContext(connection) as asked:
            place = school.take(student, without=[on for on in given_up if on != HALF_TERM])
        costs[len(school.lessons(place))] = len(asked)
        school.ilse.refresh_from_db()
        leave_weekly_place(actor=student.user, place=place, now=NOW)
    assert set(costs) == {1, 12}
    assert costs[1] == costs[12] <= 36


def test_mail_leaves_in_its_time(school, settings):
    """By 10 March the outbox has sent the letter, the reminders so far and the shift once."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    school.take()
    outbox.drain(lambda: at("2027-03-10T09:00Z"))
    sent = OutboxMessage.objects.filter(recipient=school.marlo.user, state="sent")
    assert sent.filter(kind="shift").count() == sent.filter(kind="told").count() == 1
