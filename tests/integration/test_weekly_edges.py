"""Weekly places at their edges: who may move whose, lessons that were moved by themselves, load,
and letters that wait.
"""

from datetime import UTC, date, datetime, time

import pytest

from accounts.models import Guardianship, Student
from bookings import outbox
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, OutboxMessage, Term
from bookings.operations import locks
from bookings.operations.booking import move_slot
from bookings.operations.terms import change_term
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


def test_nobody_takes_a_place_with_themselves(school):
    """Ilse learns here too: their own weekly times are not offered to them and refused, as a single
    lesson with themselves is.
    """
    ilse = Student.objects.create(user=school.ilse.user, level=4, unit=2)
    assert (
        options_for(term=school.term, offering=school.lesson, student=ilse, now=NOW).options == []
    )
    refused("not-taught", lambda: school.take(ilse))


def test_a_place_of_a_student_who_teaches_locks_their_teaching_too(school, monkeypatch):
    """What they take and what they give may not overlap, so both instructors' time is locked before
    either is read.
    """
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    learner = Student.objects.create(user=wren.user, level=4, unit=2)
    locked = []
    hold = locks.hold_teachers
    monkeypatch.setattr(
        locks,
        "hold_teachers",
        lambda ids, students: locked.append((set(ids), list(students))) or hold(ids, students),
    )
    school.take(learner)
    assert locked == [({school.ilse.pk}, [learner])]


def test_a_guardian_of_one_child_does_not_move_the_others_place(school):
    """Tarn answers for Kit only: Lark's place, which follows, is neither named to them nor moved
    by them; Dag may move both.
    """
    _, kit, lark = school.siblings()
    tarn = cast.make_user("Tarn Lindqvist-Reed", "Europe/Dublin")
    Guardianship.objects.create(
        guardian=tarn, student=kit, consent_at=NOW, consent_wording="2026-11"
    )
    first, second = school.take(kit, school.short), school.take(lark, school.short, wall_at=17 * 60)
    assert next_place(first, tarn, now=NOW) is None
    assert next_place(first, school.dag, now=NOW) == second
    assert {after for _, after in options_instead(place=first, user=tarn, now=NOW).options} == {
        None
    }
    refused(
        "conflict",
        lambda: move_weekly_place(
            actor=tarn, place=first, weekday=TUESDAY, wall_at=1080, next_wall_at=1110, now=NOW
        ),
    )
    OutboxMessage.objects.all().delete()
    move_weekly_place(
        actor=school.dag,
        place=first,
        weekday=TUESDAY,
        wall_at=18 * 60,
        next_wall_at=18 * 60 + 30,
        now=NOW,
    )
    (letter,) = told(tarn)
    assert (
        letter.title
        == "A weekly place has moved: Short harp lesson with I. Quarrow, Tuesdays 18:00, Dublin"
    )
    assert "Lark" not in letter.body


def test_each_of_a_pair_keeps_the_lesson_that_only_the_other_cannot_move(school):
    """Monday 16:45: the notice of Kit's 16:30 has passed and it stays; Lark's 17:00 moves that very
    day with their place.
    """
    hedda, kit, lark = school.siblings()
    first, second = school.take(kit, school.short), school.take(lark, school.short, wall_at=17 * 60)
    now = at("2027-03-01T16:45Z")
    moved = move_weekly_place(
        actor=hedda,
        place=first,
        weekday=TUESDAY,
        wall_at=18 * 60,
        next_wall_at=18 * 60 + 30,
        now=now,
    )
    assert [school.lessons(place)[0] for place in moved] == [date(2027, 3, 9), date(2027, 3, 2)]
    assert [school.lessons(place)[-1] for place in (first, second)] == [
        date(2027, 3, 2),
        date(2027, 2, 23),
    ]


def test_a_week_whose_lesson_has_been_given_has_no_second_one(school):
    """Moved on a Wednesday from Tuesdays to Fridays: this week's lesson was yesterday, so the first
    Friday is next week's.
    """
    cast.publish(school.ilse, "4 15:30-20:30")
    place = school.take()
    (moved,) = move_weekly_place(
        actor=school.marlo.user,
        place=place,
        weekday=4,
        wall_at=16 * 60,
        now=at("2027-03-03T09:00Z"),
    )
    assert school.lessons(moved)[0] == date(2027, 3, 12)


def test_a_move_within_a_full_day_is_among_the_options(school):
    """With 360 minutes taught on each Tuesday, Marlo's own 45 among them, their place may still
    move to another hour of that day.
    """
    place = school.take()
    rest = cast.make_offering("Long lesson", Kind.PRIVATE_LESSON, 315)
    for on in school.lessons(place):
        cast.make_meeting(rest, school.ilse, datetime.combine(on, time(9), UTC))
    found = options_instead(place=place, user=school.marlo.user, now=NOW)
    whole = [option.at.minute for option, _ in found.options if not option.failed]
    assert 17 * 60 in whole
    write(
        lambda: move_weekly_place(
            actor=school.marlo.user, place=place, weekday=TUESDAY, wall_at=17 * 60, now=NOW
        ),
        now=NOW,
    )


def test_a_lesson_that_went_to_another_instructor_is_called_off_in_every_calendar(school):
    """Moved by itself to Wren it has been sent to calendars; left with the place it is cancelled
    there, and Wren hears of it.
    """
    wren = cast.make_instructor("Wren Halloway")
    cast.teaches(wren, school.lesson)
    cast.publish(wren, cast.EVERY_DAY)
    place = school.take()
    lesson = Booking.objects.get(meeting__wall_on=date(2027, 3, 2))
    move_slot(
        actor=school.marlo.user,
        booking=lesson,
        starts_at=at("2027-03-03T16:30Z"),
        instructor=wren,
        now=at("2027-02-10T09:00Z"),
    )
    leave_weekly_place(actor=school.marlo.user, place=place, now=at("2027-02-11T09:00Z"))
    for reader in (wren.user, school.marlo.user):
        (gone,) = OutboxMessage.objects.filter(recipient=reader, kind="cancellation", state="due")
        assert (gone.meeting, gone.method) == (lesson.meeting, "CANCEL")
    assert [message.title.partition(":")[0] for message in told(school.marlo.user)] == [
        "A weekly place",
        "A weekly place has ended",
    ]


def test_a_shift_is_told_only_to_who_still_answers_for_the_student(school):
    """Hedda no longer answers for Kit when the letter about March falls due, Tarn does: it leaves
    for them alone.
    """
    hedda = cast.make_user("Hedda Lindqvist-Reed", "America/New_York")
    tarn = cast.make_user("Tarn Lindqvist-Reed", "America/New_York")
    kit = cast.make_minor("Kit Lindqvist-Reed", "America/New_York", guardian=hedda)
    Guardianship.objects.create(
        guardian=tarn, student=kit, consent_at=NOW, consent_wording="2026-11"
    )
    school.take(kit)
    hedda.guardianships.all().delete()
    due = at("2027-03-10T15:00Z")
    outbox.drain(lambda: due)
    assert [message.state for reader in (hedda, tarn) for message in told(reader, "shift")] == [
        "superseded",
        "sent",
    ]


def test_a_term_that_has_changed_since_it_was_read_is_not_filled_by_its_old_dates(school):
    """Shortened while a page was on its way: nothing is written, for the admin who shortened it was
    told of no lesson outside.
    """
    change_term(actor=school.dag, term=school.term, last_on=date(2027, 3, 19), now=NOW)
    refused("conflict", school.take)
    school.term = Term.objects.get()
    assert school.lessons(school.take())[-1] == date(2027, 3, 16)
