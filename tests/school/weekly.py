"""A school with a term, for the tests of weekly places."""

from datetime import date, datetime

import pytest

from accounts.models import Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, MeetingStatus
from bookings.domain.zones import zone
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, Term, WeeklyPlace
from bookings.operations.terms import publish_term
from bookings.operations.weekly import take_weekly_place
from tests import cast
from tests.cast import at

NOW = at("2027-01-04T09:00Z")
TUESDAY, HALF_PAST_FOUR = 1, 16 * 60 + 30


def make_term(actor: User, name: str = "Spring 2027", now: datetime = NOW) -> Term:
    """11 January to 9 April 2027 with a break in February: twelve Tuesdays."""
    half_term = (date(2027, 2, 15), date(2027, 2, 21), "Half-term")
    return publish_term(
        actor=actor,
        name=name,
        first_on=date(2027, 1, 11),
        last_on=date(2027, 4, 9),
        lessons_promised=12,
        breaks=[half_term],
        now=now,
    )


def weekly_place(instructor: Instructor, student: Student) -> WeeklyPlace:
    """A place on Tuesdays at 16:00, written directly, with one lesson on 9 March 2027."""
    lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    cast.teaches(instructor, lesson)
    term = Term.objects.create(
        name="Spring 2027",
        first_on=date(2027, 1, 11),
        last_on=date(2027, 4, 9),
        lessons_promised=12,
    )
    meeting = cast.make_meeting(lesson, instructor, at("2027-03-09T16:00Z"))
    booking = cast.make_booking(meeting, student)
    meeting.weekly_place = WeeklyPlace.objects.create(
        term=term,
        student=student,
        instructor=instructor,
        offering=lesson,
        weekday=TUESDAY,
        wall_at=16 * 60,
        promised=1,
        time_zone=zone("Europe/Dublin"),
        policy=booking.policy,
        made_at=NOW,
        made_by=student.user,
    )
    meeting.save()
    return meeting.weekly_place


class School:
    """Ilse teaches Tuesdays from 15:30 in Dublin; the term has 12 Tuesdays, a break in February."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
        self.short = cast.make_offering("Short harp lesson", Kind.PRIVATE_LESSON, 25)
        cast.teaches(self.ilse, self.lesson, self.short)
        cast.publish(self.ilse, "1 15:30-20:30")
        self.marlo = cast.make_student("Marlo Vance")
        self.dag = cast.make_admin()
        self.term = make_term(self.dag)

    def take(
        self, student=None, offering=None, now=NOW, wall_at=HALF_PAST_FOUR, **more
    ) -> WeeklyPlace:
        student = student or self.marlo
        return write(
            lambda: take_weekly_place(
                actor=student.user or student.guardians.first(),
                student=student,
                instructor=self.ilse,
                offering=offering or self.lesson,
                term=self.term,
                weekday=TUESDAY,
                wall_at=wall_at,
                now=now,
                **more,
            ),
            now=now,
        )

    def lessons(self, place: WeeklyPlace) -> list[date]:
        return [
            meeting.wall_on for meeting in place.meetings.exclude(status=MeetingStatus.CANCELLED)
        ]

    def siblings(self):
        hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
        kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin", guardian=hedda)
        lark = cast.make_minor(
            "Lark Lindqvist-Reed", "Europe/Dublin", guardian=hedda, adult_on=date(2031, 3, 1)
        )
        return hedda, kit, lark


def rows() -> tuple[int, ...]:
    return tuple(
        model.objects.count() for model in (WeeklyPlace, Meeting, Booking, OutboxMessage, AuditRow)
    )


def refused(code, act):
    before = rows()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert rows() == before
    return caught.value


def told(reader, kind="told") -> list[OutboxMessage]:
    return list(OutboxMessage.objects.filter(recipient=reader, kind=kind).order_by("due_at", "pk"))
