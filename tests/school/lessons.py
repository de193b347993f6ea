"""Lessons that were written under other zone rules, and what moves them."""

from datetime import timedelta

from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.operations import retiming
from bookings.queries.retiming import plan
from tests import cast
from tests.cast import NOW, at

HOUR = timedelta(hours=1)


class School:
    """Ilse in Dublin teaches lessons of 25 minutes every day; Noor and Marlo learn."""

    def __init__(self):
        cast.make_policy()
        self.admin = cast.make_admin()
        self.ilse, self.wren = (
            cast.make_instructor(),
            cast.make_instructor("Wren Halloway", "Europe/Dublin"),
        )
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)
        self.circle = cast.make_offering("Harp circle", Kind.GROUP_MEETING, 25)
        for teacher in (self.ilse, self.wren):
            cast.teaches(teacher, self.lesson)
            cast.publish(teacher, cast.EVERY_DAY)
        self.noor, self.marlo = (
            cast.make_student(),
            cast.make_student("Marlo Finch", "Europe/London"),
        )

    def lesson_at(self, starts_at, student=None, teacher=None, offering=None, off=None, **fields):
        """A lesson; `off` is how far the old rules put its instant from the right one."""
        teacher, offering, right = teacher or self.ilse, offering or self.lesson, at(starts_at)
        if off is not None:
            wall = right.astimezone(teacher.user.time_zone)
            fields = {
                "wall_on": wall.date(),
                "wall_at": wall.time(),
                "tzdata_version": "2025b",
                **fields,
            }
        meeting = cast.make_meeting(offering, teacher, right + (off or timedelta()), **fields)
        if student is not None:
            cast.make_booking(meeting, student)
        return meeting

    def retime(self, now=NOW):
        """Everything that is due, as the command does it."""
        found = plan(now)
        done = []
        for batch in found.batches:
            done += write(lambda batch=batch: retiming.retime(meeting_ids=batch, now=now), now=now)
        write(lambda: retiming.stamp(meeting_ids=found.unmoved), now=now)
        return done

    def clear(self, meeting):
        return write(
            lambda: retiming.clear_flag(actor=self.admin, meeting=meeting, now=NOW), now=NOW
        )
