"""TRADE.md 8, scenario 24: two lessons of a family that are next to each other move together."""

import pytest

from accounts.models import Guardianship, User
from bookings.door import write
from bookings.models import AuditRow, Booking, OutboxMessage
from bookings.operations.moving import move_pair
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused, school
from tests.school.consultations import School

__all__ = ["school"]
pytestmark = pytest.mark.django_db
SENT = ("told", "invitation")
ENTRY = "For your calendar: Consultation with I. Quarrow"


@pytest.fixture
def hedda() -> User:
    return cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")


@pytest.fixture
def pair(school: School, hedda: User) -> tuple[Booking, Booking]:
    """Kit on Friday 12 March at 17:00 and Lark at 17:30, both with Ilse; told already."""
    kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin", guardian=hedda)
    lark = cast.make_minor("Lark Lindqvist-Reed", "Europe/Dublin", guardian=hedda)
    booked = (
        school.book(at("2027-03-12T17:00Z"), student=kit, actor=hedda),
        school.book(at("2027-03-12T17:30Z"), student=lark, actor=hedda),
    )
    OutboxMessage.objects.all().delete()
    return booked


def move(pair: tuple[Booking, Booking], actor: User, starts_at: str, **more: object) -> Booking:
    booking, sibling = pair
    asked = {"booking": booking, "sibling": sibling, "starts_at": at(starts_at), **more}
    return write(lambda: move_pair(actor=actor, now=NOW, **asked), now=NOW)


def starts_of(pair: tuple[Booking, Booking]) -> list[str]:
    rows = Booking.objects.filter(pk__in=[row.pk for row in pair]).order_by("pk")
    return [f"{row.starts_at:%d %H:%M} {row.meeting.starts_at:%H:%M}" for row in rows]


@pytest.mark.parametrize(
    ("starts_at", "stands"),
    [
        ("2027-03-12T17:30Z", ["12 17:30 17:30", "12 18:00 18:00"]),
        ("2027-03-12T16:30Z", ["12 16:30 16:30", "12 17:00 17:00"]),
        ("2027-03-15T10:00Z", ["15 10:00 10:00", "15 10:30 10:30"]),
    ],
)
def test_a_pair_moves_by_one_step_even_into_its_own_time(pair, hedda, starts_at, stands):
    """Half an hour later or earlier, each takes a time that the other leaves."""
    move(pair, hedda, starts_at)
    assert starts_of(pair) == stands
    moved = AuditRow.objects.filter(verb="moved").values_list("thing_id", flat=True)
    assert sorted(moved) == sorted(row.pk for row in pair)


def test_the_later_lesson_may_be_the_one_that_is_moved(pair, hedda):
    """Lark's goes to 10:30, and Kit's before it to 10:00."""
    move((pair[1], pair[0]), hedda, "2027-03-15T10:30Z")
    assert starts_of(pair) == ["15 10:00 10:00", "15 10:30 10:30"]


def test_a_guardian_of_both_reads_one_email_and_gets_two_entries(pair, hedda, school):
    """Each entry has one event (RFC 5546 section 3.2.2); the instructor reads of each student."""
    move(pair, hedda, "2027-03-15T10:00Z")
    sent = OutboxMessage.objects.filter(kind__in=SENT).order_by("pk")
    to_hedda = [(row.kind, row.title) for row in sent.filter(recipient=hedda)]
    assert to_hedda == [
        ("told", "Moved: Kit’s and Lark’s lessons, Mon 15 March 10:00, Dublin"),
        (
            "invitation",
            "For your calendar: Consultation with I. Quarrow, Mon 15 March 10:00, Dublin",
        ),
        (
            "invitation",
            "For your calendar: Consultation with I. Quarrow, Mon 15 March 10:30, Dublin",
        ),
    ]
    to_ilse = sent.filter(recipient=school.ilse.user)
    assert [(row.kind, row.body.count("has moved from")) for row in to_ilse] == [
        ("invitation", 1),
        ("invitation", 1),
    ]


def test_a_guardian_of_one_child_reads_of_that_child_alone(pair, hedda):
    """Orsola answers for Kit too, and hears nothing of Lark."""
    orsola = cast.make_user("Orsola Reed", "Europe/Dublin")
    Guardianship.objects.create(guardian=orsola, student=pair[0].student)
    move(pair, hedda, "2027-03-15T10:00Z")
    (told,) = OutboxMessage.objects.filter(kind__in=SENT, recipient=orsola)
    assert (told.kind, "Kit’s lesson has moved" in told.body) == ("invitation", True)
    assert "Lark" not in told.body


def test_neither_moves_where_one_cannot(pair, hedda, school):
    """Marlo's lesson stands where Lark's would go; the refusal is Lark's."""
    marlo = cast.make_student("Marlo Vance")
    school.book(at("2027-03-15T10:30Z"), student=marlo)
    refusal = refused("taken", lambda: move(pair, hedda, "2027-03-15T10:00Z"))
    assert refusal.detail.startswith("Lark’s lesson cannot move, so neither has moved.")
    assert starts_of(pair) == ["12 17:00 17:00", "12 17:30 17:30"]


def test_lessons_that_are_not_next_to_each_other_do_not_move_together(pair, hedda, school):
    """Lark has gone to another day meanwhile; and Noor is of another family."""
    move(pair, hedda, "2027-03-15T10:00Z")
    noor = school.book(at("2027-03-15T11:00Z"))
    for other in (noor, school.book(at("2027-03-16T11:00Z"), student=pair[1].student, actor=hedda)):
        refused("conflict", lambda other=other: move((pair[0], other), hedda, "2027-03-17T10:00Z"))
    refused("conflict", lambda: move((pair[0], pair[0]), hedda, "2027-03-17T10:00Z"))


def test_the_school_moves_a_pair_that_the_family_may_decline(pair, school):
    """As with one lesson: the email says until when each can be declined free of charge."""
    move(pair, school.ilse.user, "2027-03-15T10:00Z")
    assert all(Booking.objects.get(pk=row.pk).decline_by is not None for row in pair)
    told = OutboxMessage.objects.get(kind="told")
    assert told.body.count("you can decline it free of charge until") == 2
