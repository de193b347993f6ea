"""Covering: lessons of an instructor who is ill pass to substitutes, and families may refuse."""

from datetime import timedelta

import pytest

from bookings.access import access_brief
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, Plan
from bookings.operations.declining import decline_booking
from bookings.operations.plans import adopt_plan
from tests import cast
from tests.cast import NOW
from tests.integration.nothing_written import refused
from tests.school.covering import DAY, DECIDED_AT, CoveringSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at NOW."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return CoveringSchool()


def outdated(school, plan):
    """(lesson, code) of each conflict in the refusal to adopt the plan."""
    with pytest.raises(Refused) as caught:
        school.decide(adopt_plan, plan)
    assert caught.value.code == "plan-outdated"
    return [(one["meeting"], one["code"]) for one in caught.value.data["conflicts"]]


def decline(school, lesson, now=DECIDED_AT + timedelta(hours=1)):
    actor = lesson.student.user or school.hedda
    return write(lambda: decline_booking(actor=actor, booking=lesson, now=now), now=now)


def emails(reader, plan, kind=None):
    """What left for a reader once the plan was adopted, reminders left out."""
    rows = OutboxMessage.objects.filter(recipient=reader, made_at=DECIDED_AT)
    rows = rows.exclude(kind__startswith="reminder").order_by("pk")
    return [row for row in rows if kind in (None, row.kind)]


def test_wren_is_proposed_as_substitute_and_nobody_is_told_before_adoption(school):
    """Source: TRADE.md 8 (21): Wren is proposed as substitute."""
    lesson = school.book(school.noor, 13)
    before = OutboxMessage.objects.count()
    plan = school.solved()
    (row,) = plan.answer["handovers"]
    assert (row["meeting"], row["to"], row["waits"]) == (lesson.meeting_id, school.wren.pk, False)
    assert plan.is_proven
    assert OutboxMessage.objects.count() == before
    assert Meeting.objects.get().instructor == school.ilse


def test_adopting_hands_the_lesson_over_with_its_uid_and_the_room_of_the_substitute(school):
    """The family's entry is changed, Wren's is new, and Ilse's is cancelled."""
    lesson = school.book(school.noor, 13)
    was = lesson.meeting
    school.decide(adopt_plan, school.solved())
    meeting = Meeting.objects.get()
    assert (meeting.instructor, meeting.uid, meeting.starts_at) == (
        school.wren,
        was.uid,
        was.starts_at,
    )
    assert (meeting.sequence, meeting.version) == (was.sequence + 1, was.version + 1)
    assert meeting.join_address == school.wren.room
    assert meeting.zone == "America/New_York"
    sent = {
        row.recipient: row for row in OutboxMessage.objects.filter(made_at=DECIDED_AT, sequence=1)
    }
    assert {user: row.method for user, row in sent.items()} == {
        school.noor.user: "REQUEST",
        school.wren.user: "REQUEST",
        school.ilse.user: "CANCEL",
    }
    assert all(f"UID:{was.uid}" in row.calendar for row in sent.values())
    assert AuditRow.objects.filter(verb="covered", thing="booking", actor=school.admin).count() == 1


def test_a_family_gets_one_readable_email_however_many_lessons(school):
    """Two children: one email about both, and a bare one for each entry in the calendar."""
    school.book(school.posy, 13)
    school.book(school.kit, 14)
    plan = school.solved()
    school.decide(adopt_plan, plan)
    (told,) = emails(school.hedda, plan, "told")
    assert "Posy’s lesson" in told.body
    assert "Kit’s lesson" in told.body
    assert told.body.count("/decline/") == 2
    bare = emails(school.hedda, plan, "invitation")
    assert len(bare) == 2
    assert all("/decline/" not in row.body for row in bare)
    for instructor in (school.ilse, school.wren):
        assert len(emails(instructor.user, plan, "told")) == 1


def test_a_family_may_refuse_free_of_charge_until_the_lesson_begins(school):
    """Source: TRADE.md 8 (21): each may refuse. The lesson is called off and Wren is told; the
    other lesson stays.
    """
    lesson, other = school.book(school.noor, 13), school.book(school.posy, 14)
    school.decide(adopt_plan, school.solved())
    last = DAY + timedelta(hours=13) - timedelta(minutes=1)
    declined = decline(school, Booking.objects.get(pk=lesson.pk), now=last)
    assert (declined.standing, declined.ended_why) == ("ENDED", "declined")
    assert declined.meeting.status == "CANCELLED"
    (told,) = OutboxMessage.objects.filter(recipient=school.wren.user, made_at=last)
    assert "has declined" in told.body
    assert not OutboxMessage.objects.filter(recipient=school.ilse.user, made_at=last).exists()
    assert Booking.objects.get(pk=other.pk).standing == "HELD"


def test_a_family_that_refuses_twice_is_told_that_it_has_ended(school):
    """The first no stands."""
    lesson = school.book(school.noor, 13)
    school.decide(adopt_plan, school.solved())
    decline(school, Booking.objects.get(pk=lesson.pk))
    refused("already-ended", lambda: decline(school, Booking.objects.get(pk=lesson.pk)))


def test_once_the_lesson_has_begun_silence_was_a_yes(school):
    """At the start itself nothing can be refused."""
    lesson = school.book(school.noor, 13)
    school.decide(adopt_plan, school.solved())
    begun = lesson.starts_at
    refused("past", lambda: decline(school, Booking.objects.get(pk=lesson.pk), now=begun))


def test_the_substitute_reads_the_brief_and_the_instructor_who_is_ill_no_longer_does(school):
    """Source: TRADE.md 1.10: notes access for that session only."""
    lesson = school.book(school.noor, 13)
    school.decide(adopt_plan, school.solved())
    assert access_brief(school.wren.user, lesson.pk, now=DECIDED_AT).pk == lesson.pk
    refused("not-found", lambda: access_brief(school.ilse.user, lesson.pk, now=DECIDED_AT))


def test_an_ill_day_without_lessons_is_refused_at_once(school):
    """Nothing to cover: no plan is made. The same for hours that hold none of the lessons."""
    refused("invalid", school.ask)
    school.book(school.noor, 13)
    refused("invalid", lambda: school.ask(ends_at=DAY + timedelta(hours=13)))
    assert not Plan.objects.exists()


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"instructor": 999_999}, "invalid"),
        ({"ends_at": DAY}, "end-before-start"),
        ({"ends_at": DAY + timedelta(days=15)}, "invalid"),
        ({"starts_at": NOW - timedelta(days=2), "ends_at": NOW - timedelta(days=1)}, "past"),
    ],
)
def test_what_can_never_be_covered_is_refused_at_once(school, more, code):
    """Somebody who does not teach here, no hours, too many days, hours that are over."""
    school.book(school.noor, 13)
    refused(code, lambda: school.ask(**more))
    assert not Plan.objects.exists()


def test_only_the_lessons_of_the_stretch_of_hours_are_covered(school):
    """A stretch from 13:30 to 15:00 holds the second of three lessons."""
    for hours in (13, 14, 15):
        school.book(cast.make_student(f"Student {hours}"), hours)
    plan = school.solved(
        starts_at=DAY + timedelta(hours=13, minutes=30), ends_at=DAY + timedelta(hours=15)
    )
    assert [row["starts_at"] for row in plan.answer["handovers"]] == ["2027-03-12T14:00:00Z"]


def test_a_plan_adopted_after_the_world_moved_names_each_conflict_and_changes_nothing(school):
    """Wren has been booked at one time meanwhile, and one lesson has been cancelled."""
    first, second = school.book(school.noor, 13), school.book(school.posy, 14)
    third = school.book(school.kit, 15)
    plan = school.solved()
    school.book(cast.make_student("Marlo Vance", "Europe/London"), 13, school.wren)
    decline(school, second, now=DECIDED_AT)
    assert outdated(school, plan) == [
        (first.meeting_id, "taken"),
        (second.meeting_id, "already-ended"),
    ]
    assert Meeting.objects.get(pk=third.meeting_id).instructor == school.ilse
    plan.refresh_from_db()
    assert plan.state == "READY"


def test_a_substitute_dismissed_meanwhile_is_named(school):
    """Nobody is handed a lesson after they have left."""
    lesson = school.book(school.noor, 13)
    plan = school.solved()
    school.wren.is_active = False
    school.wren.save()
    assert outdated(school, plan) == [(lesson.meeting_id, "not-taught")]


def test_hours_given_up_meanwhile_and_a_full_day_are_conflicts(school):
    """The policy allows fewer minutes a day; then Wren teaches on no day any more."""
    school.book(school.noor, 13)
    school.book(school.posy, 14)
    plan = school.solved()
    cast.make_policy(version=2, in_force_from=NOW - timedelta(days=1), day_minutes=30)
    assert {code for _, code in outdated(school, plan)} == {"load-day"}
    school.wren.week.windows.all().delete()
    assert {code for _, code in outdated(school, plan)} == {"outside-hours"}


def test_a_chain_is_adopted_whole(school):
    """Only Wren teaches the ill lesson's offering; Soren takes Wren's own at that time."""
    theory = cast.make_offering("Harp theory")
    soren = cast.make_instructor("Soren Vale", "Europe/Dublin")
    cast.publish(soren, cast.EVERY_DAY)
    cast.teaches(soren, school.offering)
    for instructor in (school.ilse, school.wren):
        cast.teaches(instructor, theory)
    own = school.book(school.posy, 13, school.wren)
    school.offering, consultation = theory, school.offering
    ill = school.book(school.noor, 13)
    school.offering = consultation
    plan = school.solved()
    school.decide(adopt_plan, plan)
    taught = dict(Meeting.objects.values_list("pk", "instructor"))
    assert taught == {ill.meeting_id: school.wren.pk, own.meeting_id: soren.pk}
    (told,) = emails(school.wren.user, plan, "told")
    assert "You teach these lessons as a substitute" in told.body
    assert "Other instructors teach these lessons of yours" in told.body
