"""What stays open behind somebody whose role, address or place at the school has ended."""

import pytest

from accounts.models import Guardianship, Instructor, User
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.operations import accounts, closing, consents, guardians, invitations, leaving
from bookings.operations.calling_off import call_off
from bookings.operations.reinstating import reinstate_meeting
from bookings.operations.resending import send_again
from bookings.queries.consents import wording_in_force
from tests import cast
from tests.cast import NOW
from tests.school.addresses import change_address
from tests.school.leaving import School

pytestmark = pytest.mark.django_db
NEW = "new.address@rowanmere.example"


@pytest.fixture
def school() -> School:
    return School()


def invited(school: School, email: str, name: str = "Somebody", **role) -> str:
    """The secret of an invitation that has just been mailed."""
    welcome = school.do(invitations.invite, email=email, name=name, **role)
    body = OutboxMessage.objects.get(subject_key=f"welcome:{welcome.pk}").body
    return body.split("/welcome/")[1].split("/")[0]


def comes_in(secret: str) -> User:
    values = {"name": "Ida Quince", "time_zone": "UTC", "password": cast.PASSWORD}
    return write(lambda: invitations.come_in(secret=secret, now=NOW, **values), now=NOW)


def is_shut(secret: str) -> None:
    with pytest.raises(Refused) as caught:
        comes_in(secret)
    assert caught.value.code == "not-found"


def consent_form(school: School) -> tuple[Guardianship, str]:
    """A consent that has been asked for, and the secret of the form at the old address."""
    kit = cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell"), consent=False)
    consents.ask_for_consent(student_id=kit.pk, now=NOW)
    outbox_row = OutboxMessage.objects.get(kind="consent")
    secret = outbox_row.body.split("/consent/")[1].split("/")[0]
    outbox.drain(lambda: NOW)
    return kit.guardianships.get(), secret


def test_an_invitation_at_an_address_of_before_opens_nothing(school):
    """Whoever reads the old mailbox would make an account there that has the role."""
    secret = invited(school, school.noor.user.email, as_admin=True)
    school.do(change_address, user=school.noor.user, email=NEW)
    is_shut(secret)


def test_a_consent_form_at_an_address_of_before_opens_nothing_and_is_asked_anew(school):
    """Only the guardian consents, and they read the new mailbox."""
    row, secret = consent_form(school)
    school.do(change_address, user=row.guardian, email=NEW)
    with pytest.raises(Refused) as caught:
        consents.give_consent(secret=secret, wording=wording_in_force(NOW).version, now=NOW)
    assert caught.value.code == "not-found"
    assert not consents.ask_for_consent(student_id=row.student_id, now=NOW)
    (asked,) = OutboxMessage.objects.filter(kind="consent", state="due")
    assert asked.to_address == NEW
    again = asked.body.split("/consent/")[1].split("/")[0]
    consents.give_consent(secret=again, wording=wording_in_force(NOW).version, now=NOW)


@pytest.mark.parametrize("state", ["sent", "given-up"])
def test_what_is_sent_again_goes_to_the_address_of_today(school, state):
    """An email that was given up at a mistyped address is sent again once the address is right."""
    old = school.noor.user.email
    message = OutboxMessage.objects.create(
        recipient=school.noor.user, kind="told", title="Soon", body="Soon.",
        subject_key="meeting:1", state_key="1", state=state, to_address=old,
        made_at=NOW, due_at=NOW,
    )  # fmt: skip
    school.do(change_address, user=school.noor.user, email=NEW)
    assert send_again(actor=school.dag, message=message, now=NOW).to_address == NEW


def test_an_admin_no_longer_is_none_again_by_an_older_invitation(school):
    """Else the role would wait in the mailbox of whom it was taken from."""
    una = cast.make_admin("Una Marsh")
    secret = invited(school, una.email, as_admin=True)
    school.do(accounts.change_admin, user=una, is_admin=False)
    is_shut(secret)


def test_an_instructor_no_longer_is_none_again_by_an_older_invitation(school):
    """An invitation from before they were dismissed brings no dismissed instructor back."""
    secret = invited(school, school.ilse.user.email, as_instructor=True)
    school.do(leaving.dismiss_instructor, instructor=school.ilse)
    is_shut(secret)


def test_an_instructor_of_before_who_is_invited_again_teaches_again(school):
    """The invitation said so."""
    school.do(leaving.dismiss_instructor, instructor=school.ilse)
    comes_in(invited(school, school.ilse.user.email, as_instructor=True))
    assert Instructor.objects.get(pk=school.ilse.pk).is_active


def test_a_minor_does_not_come_in_once_the_last_guardian_is_gone(school):
    """As nobody is invited for a minor without a guardian."""
    secret = invited(school, "posy@rowanmere.example", student=school.posy)
    school.do(guardians.remove_guardian, guardianship=school.posy.guardianships.get())
    with pytest.raises(Refused):
        comes_in(secret)
    school.posy.refresh_from_db()
    assert school.posy.user is None


def test_a_lesson_is_not_brought_back_for_a_student_who_has_left(school):
    """It was called off when they left; nothing can be booked for them."""
    lesson = school.meeting(school.lesson, "2027-03-09T10:00Z")
    cast.make_booking(lesson, school.noor)
    school.do(closing.leave_school, student=school.noor, why="Noor moves away.")
    school.refused("already-ended", reinstate_meeting, meeting=Meeting.objects.get(pk=lesson.pk))


def test_a_group_comes_back_without_the_students_who_have_left(school):
    """Neither a place nor a place in line is theirs; the others are in it again."""
    group = school.meeting(school.group, "2027-03-10T10:00Z", places=2)
    cast.make_booking(group, school.noor)
    cast.make_booking(group, school.posy)
    group.waiting.create(student=school.marlo, place_kind="player", joined_at=NOW)
    school.do(call_off, meeting=group, why="Ilse is ill.")
    for one in (school.noor, school.marlo):
        school.do(closing.leave_school, student=one)
    done = school.do(reinstate_meeting, meeting=Meeting.objects.get(pk=group.pk))
    assert [one.booking.student for one in done.left_out] == [school.noor]
    assert Booking.objects.get(standing="HELD").student == school.posy
    assert not Booking.objects.filter(student=school.marlo).exists()
    assert not WaitingPlace.objects.filter(ended_at__isnull=True).exists()
