"""Who answers for a student, and until when: one rule for what is read, what is changed, what feeds
show and who gets email.

A minor's guardians do. From the day a child comes of age, on the child's own clock, notes are the
child's alone; bookings go on being the guardians' until the child has an account.
"""

from datetime import date, datetime, timedelta
from typing import Protocol

from bookings.domain.policy import is_minor
from bookings.domain.timeline import EPOCH
from bookings.domain.wall import day_edges
from bookings.domain.zones import zone


class Learner(Protocol):
    """A student as this rule sees them: the date from which they are an adult, their clock, and
    their account, if any.
    """

    @property
    def adult_on(self) -> date | None: ...
    @property
    def zone(self) -> str: ...
    @property
    def user_id(self) -> int | None: ...


def is_child(student: Learner, now: datetime) -> bool:
    """Whether the student is a minor now, on their own clock. A child's guardians read the child's
    notes.
    """
    return is_minor(student.adult_on, now.astimezone(zone(student.zone)).date())


def is_answered_for(student: Learner, now: datetime) -> bool:
    """Whether the student's guardians book and cancel: for a minor, and for a grown child without
    an account of their own.
    """
    return student.user_id is None or is_child(student, now)


def hears(student: Learner, reader_id: int, now: datetime) -> bool:
    """Whether one of the family is written to about the student now: `reader_id` is the student's
    own account or a guardian's.
    """
    if student.user_id == reader_id:
        return not is_child(student, now)
    return is_answered_for(student, now)


def grown_at(student: Learner) -> datetime | None:
    """The instant at which the student comes of age, UTC: the first one of `adult_on` on their
    clock. None = long of age.
    """
    if student.adult_on is None:
        return None
    day = (student.adult_on - EPOCH.date()).days
    return EPOCH + timedelta(seconds=day_edges(student.zone, day, day)[0])
