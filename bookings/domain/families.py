"""Who answers for a student, and until when: one rule for reading, changing, feeds and email.

A minor's guardians do. When a child comes of age, on the child's own clock, assessments are the
child's alone; the guardians still book until the child has an account.
"""

from datetime import date, datetime, timedelta
from typing import Protocol

from bookings.domain.policy import is_minor
from bookings.domain.timeline import EPOCH
from bookings.domain.wall import day_edges
from bookings.domain.zones import zone


class Learner(Protocol):
    """A student as this rule sees one: the date of coming of age, the clock, and any account."""

    @property
    def adult_on(self) -> date | None: ...
    @property
    def zone(self) -> str: ...
    @property
    def user_id(self) -> int | None: ...


def is_child(student: Learner, now: datetime) -> bool:
    """Whether the student is a minor now, on their own clock.

    A child's guardians read the child's assessments.
    """
    return is_minor(student.adult_on, now.astimezone(zone(student.zone)).date())


def is_answered_for(student: Learner, now: datetime) -> bool:
    """Whether guardians book and cancel for the student.

    They do for a minor, and for an adult without an account of their own.
    """
    return student.user_id is None or is_child(student, now)


def hears(student: Learner, reader_id: int, now: datetime) -> bool:
    """Whether `reader_id` gets email about the student now.

    It is the student's own account or a guardian's.
    """
    if student.user_id == reader_id:
        return not is_child(student, now)
    return is_answered_for(student, now)


def grown_at(student: Learner) -> datetime | None:
    """The instant (UTC) at which the student comes of age: when `adult_on` begins on their clock.

    None for a student who is known to be an adult.
    """
    if student.adult_on is None:
        return None
    day = (student.adult_on - EPOCH.date()).days
    return EPOCH + timedelta(seconds=day_edges(student.zone, day, day)[0])
