"""Two at once where somebody leaves, on PostgreSQL."""

import threading
from collections.abc import Callable

import pytest

from accounts.models import Guardianship, User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking
from bookings.operations.accounts import change_admin
from bookings.operations.booking import book_slot
from bookings.operations.closing import close_account
from bookings.operations.guardians import withdraw_consent
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import EVERY_DAY, NOW, at
from tests.integration.test_weekly_races import beside

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def at_once(*acts: Callable[[], object]) -> list[str]:
    """Each in a thread of its own, from one instant; the codes of the refusals."""
    start, codes = threading.Barrier(len(acts)), []

    def compete(act: Callable[[], object]) -> None:
        start.wait(20)
        try:
            write(act, now=NOW)
        except Refused as refusal:
            codes.append(refusal.code)

    for thread in [beside(lambda act=act: compete(act)) for act in acts]:
        thread.join(40)
    return codes


def test_of_two_last_admins_who_go_at_once_one_stays():
    """Each takes the role from the other, or from themselves: the second finds that nobody would be left."""
    dag, una = cast.make_admin(), cast.make_admin("Una Marsh")
    codes = at_once(
        lambda: change_admin(actor=dag, user=dag, is_admin=False, now=NOW),
        lambda: close_account(actor=una, user=una, now=NOW),
    )
    assert codes == ["last-admin"]
    assert User.objects.filter(is_staff=True, is_active=True).count() == 1


def test_a_booking_made_while_the_account_is_closed_is_not_left_behind():
    """Either it is refused, or it stands in the way and is named."""
    cast.make_policy()
    dag, ilse, noor, lesson = (
        cast.make_admin(),
        cast.make_instructor(),
        cast.make_student(),
        cast.make_offering(),
    )
    cast.teaches(ilse, lesson)
    cast.publish(ilse, EVERY_DAY)
    codes = at_once(
        lambda: close_account(actor=dag, user=noor.user, now=NOW),
        lambda: book_slot(
            actor=noor.user,
            student=noor,
            offering=lesson,
            instructor=ilse,
            starts_at=at("2027-03-12T17:00Z"),
            now=NOW,
        ),
    )
    is_open = User.objects.get(pk=noor.user_id).is_active
    assert (codes, Booking.objects.count(), is_open) in (
        (["already-ended"], 0, False),
        (["has-bookings"], 1, True),
        (["conflict"], 1, True),
    )


def test_two_guardians_who_take_their_consents_back_at_once_leave_no_lesson():
    """Each leans on the other's consent: the second finds that none is left."""
    posy = cast.make_minor()
    other = Guardianship.objects.create(
        guardian=cast.make_user("Orsola Reed"),
        student=posy,
        consent_at=NOW,
        consent_wording="2026-11",
    )
    cast.make_booking(
        cast.make_meeting(cast.make_offering(), cast.make_instructor(), at("2027-03-12T09:30Z")),
        posy,
    )
    first = posy.guardianships.exclude(pk=other.pk).get()
    codes = at_once(
        *(
            lambda row=row: withdraw_consent(
                actor=row.guardian, guardianship=row, end_bookings=True, now=NOW
            )
            for row in (first, other)
        )
    )
    assert codes == []
    assert Booking.objects.get().standing == "ENDED"
    assert list(findings()) == []
