"""The edges of guardians: consent, closed and barred accounts, and parents who teach."""

from datetime import date, timedelta

import pytest

from accounts.models import Guardianship, User
from bookings import outbox
from bookings.models import OutboxMessage
from bookings.operations import booking as lessons
from bookings.operations import consents, guardians
from bookings.queries.calendars import events_for
from bookings.queries.consents import has_consent
from tests import cast
from tests.cast import NOW
from tests.school.groups import refused
from tests.school.two_instructors import THEN, School

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def test_consent_withdrawn_can_be_given_again(school):
    """The refusal says that the guardian has been written to, so they are; the form of the first
    letter stays closed.
    """
    posy = cast.make_minor(consent=False)
    guardianship = posy.guardianships.get()

    def asked():
        consents.ask_for_consent(student_id=posy.pk, now=NOW)
        return [
            m.body.split("/consent/")[1].split("/")[0]
            for m in OutboxMessage.objects.filter(kind="consent").order_by("id")
        ]

    (first,) = asked()
    assert asked() == [first]
    consents.give_consent(secret=first, wording="2026-11", now=NOW)
    guardianship.refresh_from_db()
    guardians.withdraw_consent(actor=guardianship.guardian, guardianship=guardianship, now=NOW)
    _, second = asked()
    refused("not-found", lambda: consents.give_consent(secret=first, wording="2026-11", now=NOW))
    consents.give_consent(secret=second, wording="2026-11", now=NOW)
    assert has_consent(posy, now=NOW)


def test_a_closed_account_consents_to_nothing(school):
    """The mailed form of somebody whose account is closed is closed too."""
    posy = cast.make_minor(consent=False)
    consents.ask_for_consent(student_id=posy.pk, now=NOW)
    secret = OutboxMessage.objects.get(kind="consent").body.split("/consent/")[1].split("/")[0]
    User.objects.filter(guardianships__student=posy).update(is_active=False)
    refused("not-found", lambda: consents.give_consent(secret=secret, wording="2026-11", now=NOW))


def test_a_guardian_who_teaches_their_own_child_is_invited_once_and_the_end_reaches_their_calendar(
    school,
):
    """One entry for both parts that they have in it: made, moved and cancelled under the same
    SEQUENCE rules (RFC 5546 section 2.1.4).
    """
    kit = cast.make_minor("Kit Quarrow", "Europe/Dublin", guardian=school.ilse.user)
    booking = school.book(kit, school.ilse, actor=school.ilse.user)
    booking = lessons.move_slot(
        actor=school.dag, booking=booking, starts_at=THEN + timedelta(hours=1), now=NOW
    )
    lessons.cancel_slot(actor=school.dag, booking=booking, now=NOW)
    theirs = OutboxMessage.objects.filter(
        recipient=school.ilse.user, method__in=["REQUEST", "CANCEL"]
    ).order_by("id")
    assert list(theirs.values_list("method", "sequence")) == [
        ("REQUEST", 0),
        ("REQUEST", 1),
        ("CANCEL", 2),
    ]


def test_a_guardian_who_taught_their_own_child_keeps_the_entry_when_somebody_else_takes_over(
    school,
):
    """They no longer teach it; their child is still in it: the entry changes, it does not end."""
    kit = cast.make_minor("Kit Quarrow", "Europe/Dublin", guardian=school.ilse.user)
    booking = school.book(kit, school.ilse, actor=school.ilse.user)
    lessons.move_slot(
        actor=school.dag, booking=booking, starts_at=THEN, instructor=school.wren, now=NOW
    )
    theirs = OutboxMessage.objects.filter(recipient=school.ilse.user, sequence=1)
    assert list(theirs.values_list("method", flat=True)) == ["REQUEST"]


def test_a_barred_guardian_is_not_reminded(school):
    """A reminder is made with the booking and leaves a day before: whoever is no longer a guardian
    then gets none.
    """
    kit = cast.make_minor("Kit Sandoval", "Europe/Dublin")
    school.book(kit, school.ilse)
    barred = cast.make_user("Rafe Sandoval")
    Guardianship.objects.create(guardian=barred, student=kit)
    booking = lessons.move_slot(
        actor=school.dag, booking=kit.bookings.get(), starts_at=THEN + timedelta(hours=1), now=NOW
    )
    Guardianship.objects.filter(guardian=barred).delete()
    outbox.drain(lambda: booking.starts_at - timedelta(hours=23))
    reminders = OutboxMessage.objects.filter(kind="reminder-24h", state="sent")
    assert [message.recipient for message in reminders] == [kit.guardians.get()]


def test_a_student_who_came_of_age_without_an_account_is_not_lost(school):
    """Until they have an account of their own, those who answered for them are written to, and
    their calendars show it.
    """
    kit = cast.make_minor("Kit Sandoval", "Europe/Dublin", adult_on=date(2027, 3, 1))
    school.book(kit, school.ilse)
    guardian = kit.guardians.get()
    assert OutboxMessage.objects.filter(kind="invitation", recipient=guardian).count() == 1
    assert len(events_for(guardian, now=NOW)) == 1
