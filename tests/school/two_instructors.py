"""Two instructors on two clocks, and one offering that both teach."""

from bookings.models import OutboxMessage
from bookings.operations import booking as lessons
from bookings.operations import invitations
from tests import cast
from tests.cast import EVERY_DAY, NOW, at

THEN = at("2027-03-12T17:00Z")


class School:
    """Ilse and Wren teach consultations every day; Ilse's clock is Dublin, Wren's New York."""

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.consultation = cast.make_offering()
        self.ilse, self.wren = (
            cast.make_instructor(),
            cast.make_instructor("Wren Halloway", "America/New_York"),
        )
        for instructor in (self.ilse, self.wren):
            cast.teaches(instructor, self.consultation)
            cast.publish(instructor, EVERY_DAY)

    def invite(self, email, **more):
        invitations.invite(actor=self.dag, email=email, name="Ida Quince", now=NOW, **more)
        return (
            OutboxMessage.objects.filter(kind="welcome")
            .latest("id")
            .body.split("/welcome/")[1]
            .split("/")[0]
        )

    def book(self, student, instructor, starts_at=THEN, actor=None):
        return lessons.book_slot(
            actor=actor or self.dag,
            student=student,
            offering=self.consultation,
            instructor=instructor,
            starts_at=starts_at,
            now=NOW,
        )
