"""A family is reminded of an owed lesson two weeks before it lapses: once, and not of one that is
booked or settled by then.
"""

from datetime import date, datetime, timedelta

import pytest

from bookings import outbox
from bookings.door import write
from bookings.models import OutboxMessage, OwedLesson
from bookings.operations.booking import cancel_slot
from bookings.operations.owed import carry_out, extend_owed, settle_owed
from bookings.operations.owed_reminders import remind_of_owed
from bookings.operations.terms import publish_term
from tests.cast import at
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.django_db

FIRST = date(2027, 1, 19)
"""A lesson in New York, whose make-up has to begin by 19 April."""
NEAR = at("2027-04-05T13:00Z")
NIGHT = at("2027-04-05T05:00Z")
"""One o'clock in the morning in New York, on the first date of a reminder."""


@pytest.fixture
def school() -> OwedSchool:
    return OwedSchool()


@pytest.fixture
def owed(school: OwedSchool) -> OwedLesson:
    school.call_off(school.lesson_on(FIRST))
    (owed,) = school.owed()
    return owed


def remind(now: datetime) -> int:
    return write(lambda: remind_of_owed(now=now), now=now)


def reminders() -> list[OutboxMessage]:
    """Those that wait or have left."""
    rows = OutboxMessage.objects.filter(kind="owed-reminder")
    return list(rows.filter(state__in=["due", "sent"]).order_by("pk"))


def test_a_family_is_reminded_once_two_weeks_before_the_use_by_date(school, owed) -> None:
    """From 5 April on the student's clock; a sweep that runs again or late adds nothing."""
    late = NEAR + timedelta(days=3)
    runs = [at("2027-04-05T03:59Z"), at("2027-04-05T04:00Z"), NEAR, late]
    assert [remind(now) for now in runs] == [0, 1, 0, 0]
    (told,) = reminders()
    assert (told.recipient, told.title) == (
        school.marlo.user,
        "Your owed lesson: book it by 19 April 2027",
    )
    assert f"/times/?student={school.marlo.pk}&owed={owed.pk}" in told.body
    assert told.good_until == at("2027-04-20T04:00Z")


def test_a_reminder_waits_for_the_morning(school, owed) -> None:
    """Nobody is reminded at night on their own clock."""
    remind(NIGHT)
    outbox.drain(lambda: NIGHT)
    assert [told.state for told in reminders()] == ["due"]
    outbox.drain(lambda: at("2027-04-05T12:00Z"))
    assert [told.state for told in reminders()] == ["sent"]


def test_lessons_to_be_used_by_one_date_are_told_in_one_email(school, owed) -> None:
    """Each reader gets one email of all of them, with the page that lists them."""
    school.call_off(school.lesson_on(FIRST + timedelta(weeks=1)))
    OwedLesson.objects.update(use_by=owed.use_by)
    assert remind(NEAR) == 2
    (told,) = reminders()
    assert told.title == "Your owed lessons: book them by 19 April 2027"
    assert f"/my-lessons/?student={school.marlo.pk}" in told.body


def test_a_lesson_that_is_booked_is_not_reminded_of(school, owed) -> None:
    """Neither before the reminder nor while it waits. What is owed for the make-up lesson is told
    with its date when that is cancelled.
    """
    remind(NIGHT)
    make_up = school.make_up(owed, at("2027-04-13T16:30Z"), NIGHT)
    assert (reminders(), remind(NEAR)) == ([], 0)
    write(lambda: cancel_slot(actor=school.marlo.user, booking=make_up, now=NEAR), now=NEAR)
    assert OwedLesson.objects.still_owed().count() == 1
    assert (reminders(), remind(NEAR + timedelta(days=1))) == ([], 0)


def test_the_other_lesson_of_a_reminder_is_told_of_anew(school, owed) -> None:
    """One of two is booked while the email waits: the other is still to be booked."""
    school.call_off(school.lesson_on(FIRST + timedelta(weeks=1)))
    OwedLesson.objects.update(use_by=owed.use_by)
    remind(NIGHT)
    school.make_up(owed, at("2027-04-13T16:30Z"), NIGHT)
    assert (reminders(), remind(NEAR)) == ([], 1)
    assert [told.title for told in reminders()] == ["Your owed lesson: book it by 19 April 2027"]


def test_a_lesson_that_is_settled_or_owed_no_more_is_not_reminded_of(school, owed) -> None:
    """The school settles one by hand, reinstates another, and carries a third to another term."""
    lessons = [school.lesson_on(on) for on in (date(2027, 4, 6), FIRST + timedelta(weeks=1))]
    for lesson in lessons:
        school.call_off(lesson)
    by_hand, _reinstated, carried = school.owed()
    OwedLesson.objects.update(use_by=owed.use_by)
    OwedLesson.objects.filter(pk=by_hand.pk).update(use_by=date(2027, 4, 18))
    OwedLesson.objects.filter(pk=carried.pk).update(use_by=date(2027, 4, 17))
    assert remind(NIGHT) == 3
    by = {"actor": school.dag, "now": NIGHT}
    write(lambda: settle_owed(owed=by_hand, reason="Refunded.", **by), now=NIGHT)
    school.reinstate(lessons[0], NIGHT)
    dates = {"first_on": date(2027, 4, 19), "last_on": date(2027, 7, 9)}
    term = publish_term(name="Summer", lessons_promised=11, **dates, **by)
    write(
        lambda: carry_out(
            owed=carried, term=term, use_by=date(2027, 7, 9), reason="No time left.", **by
        ),
        now=NIGHT,
    )
    assert (reminders(), remind(NEAR)) == ([], 0)


def test_more_time_is_told_at_once_and_reminded_of_before_the_new_date(school, owed) -> None:
    """A later date has its own reminder; a near one was just told."""
    remind(NIGHT)
    by = {"actor": school.dag, "owed": owed, "reason": "A long illness.", "now": NIGHT}
    write(lambda: extend_owed(use_by=date(2027, 4, 18), **by), now=NIGHT)
    assert (reminders(), remind(NEAR)) == ([], 0)
    write(lambda: extend_owed(use_by=date(2027, 6, 1), **by), now=NIGHT)
    assert remind(NEAR) == 0
    assert remind(at("2027-05-18T13:00Z")) == 1


def test_a_student_who_has_left_is_not_reminded(school, owed) -> None:
    """They book nothing here any more; an admin settles what is owed."""
    school.marlo.is_active = False
    school.marlo.save(update_fields=["is_active"])
    assert (remind(NEAR), reminders()) == (0, [])
