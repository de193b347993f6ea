"""One instructor, one student, and consultations between them."""

from bookings.door import write
from bookings.operations.booking import book_slot
from tests import cast
from tests.cast import NOW


class School:
    """Ilse teaches consultations every day from 09:00 to 21:00 in Dublin."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.consultation = cast.make_offering()
        cast.teaches(self.ilse, self.consultation)
        cast.publish(self.ilse, cast.EVERY_DAY)
        self.noor = cast.make_student()

    def book(self, starts_at, student=None, actor=None, now=NOW, **more):
        student = student or self.noor
        return write(
            lambda: book_slot(
                actor=actor or student.user,
                student=student,
                offering=self.consultation,
                instructor=self.ilse,
                starts_at=starts_at,
                now=now,
                **more,
            ),
            now=now,
        )
