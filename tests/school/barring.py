"""A school in which an admin bars a guardian of Posy."""

from accounts.models import Guardianship, Student, User
from bookings import outbox
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices import by_reader
from bookings.notices.families import invited
from bookings.notices.rows import MeetingPost
from bookings.operations.barring import bar_guardian
from bookings.operations.booking import book_slot
from tests import cast
from tests.cast import NOW, at
from tests.school.leaving import School

WHY = "The court has decided so; see the file."


def second_guardian(child: Student, *, consent: bool = True) -> User:
    tarn = cast.make_user("Tarn Reed", "Europe/Dublin")
    child.guardianships.create(
        guardian=tarn,
        consent_at=NOW if consent else None,
        consent_wording="2026-11" if consent else "",
    )
    return tarn


def bar(school: School, row: Guardianship, **more) -> Guardianship:
    return school.do(bar_guardian, guardianship=row, why=WHY, **more)


def booked(school: School, student: Student, starts_at: str = "2027-03-09T09:00Z") -> Booking:
    """A lesson whose invitations have not left yet."""
    if not hasattr(school.ilse, "week"):
        cast.publish(school.ilse, cast.EVERY_DAY)
    return school.do(
        book_slot,
        student=student,
        offering=school.lesson,
        instructor=school.ilse,
        starts_at=at(starts_at),
    )


def sent(reader: User) -> None:
    """All that is due for this reader has left."""
    rows = OutboxMessage.objects.filter(recipient=reader, due_at__lte=NOW)
    rows.update(state=OutboxMessage.State.SENT, sent_at=NOW)


def unsent(reader: User) -> list[OutboxMessage]:
    return list(OutboxMessage.objects.unsent().to(reader.pk).order_by("pk"))


def class_of_two(school: School) -> tuple[Meeting, Student]:
    """Posy and their sibling Lark in one class; Hedda's invitation is on its way."""
    lark = cast.make_minor("Lark Lindqvist-Reed", guardian=school.hedda)
    meeting = school.meeting(school.group, "2027-03-10T10:00Z", places=4)
    for child in (school.posy, lark):
        cast.make_booking(meeting, child)
    bookings = Booking.objects.filter(meeting=meeting).with_details()
    held = by_reader(bookings, NOW)[school.hedda]
    messages = invited(
        MeetingPost(held[0].meeting, [school.hedda], NOW),
        school.hedda,
        held,
        title="Booked",
        opening="Posy and Lark have a place.",
        partstat="ACCEPTED",
    )
    outbox.enqueue(messages, now=NOW)
    return meeting, lark
