"""Two at once where somebody leaves, on PostgreSQL."""

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest

from accounts.models import Guardianship, Instructor, User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.operations.account_emails import send_password_link
from bookings.operations.accounts import change_account, change_admin
from bookings.operations.addresses import ask_new_address, confirm_new_address
from bookings.operations.booking import book_slot
from bookings.operations.closing import close_account
from bookings.operations.consents import ask_for_consent, give_consent
from bookings.operations.guardians import remove_guardian, withdraw_consent
from bookings.operations.invitations import come_in, invite
from bookings.operations.offers import accept_offer
from bookings.queries.accounts_of_people import one_person
from bookings.queries.consents import wording_in_force
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import EVERY_DAY, NOW, at
from tests.school.addresses import secret_to
from tests.school.leaving import School
from tests.threads import beside

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
    """Each takes the role from the other, or from themselves: the second finds that nobody would be
    left.
    """
    dag, una = cast.make_admin(), cast.make_admin("Una Marsh")
    codes = at_once(
        lambda: change_admin(actor=dag, user=dag, is_admin=False, now=NOW),
        lambda: close_account(actor=una, user=una, now=NOW),
    )
    assert codes == ["last-admin"]
    assert User.objects.filter(is_staff=True, is_active=True).count() == 1


def test_of_two_who_change_one_account_at_once_the_second_reads_it_again():
    """Both have read the same; the locks are taken before what they read is compared."""
    dag, ida = cast.make_admin(), cast.make_user("Ida Quince")
    seen = one_person(dag, ida.pk).seen
    codes = at_once(
        lambda: change_account(actor=dag, user=ida, name="Ida Marsh", seen=seen, now=NOW),
        lambda: change_account(actor=dag, user=ida, name="Ida Vane", seen=seen, now=NOW),
        lambda: close_account(actor=dag, user=ida, seen=seen, now=NOW),
    )
    assert codes == ["stale", "stale"]


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


def test_two_guardians_whose_accounts_are_closed_at_once_leave_no_lesson():
    """Each leans on the other's consent, and the second finds that nobody is left to answer for the
    child.
    """
    dag, posy = cast.make_admin(), cast.make_minor()
    other = cast.make_user("Orsola Reed")
    Guardianship.objects.create(
        guardian=other, student=posy, consent_at=NOW, consent_wording="2026-11"
    )
    lesson, ilse = cast.make_offering(), cast.make_instructor()
    cast.make_booking(cast.make_meeting(lesson, ilse, at("2027-03-12T09:30Z")), posy)
    codes = at_once(
        *(
            lambda user=row.guardian: close_account(actor=dag, user=user, now=NOW)
            for row in posy.guardianships.select_related("guardian")
        )
    )
    assert codes == ["has-bookings"]
    assert posy.guardianships.filter(guardian__is_active=True).count() == 1


def test_a_guardian_removed_while_the_other_s_account_is_closed_leaves_no_lesson():
    """Of two who go at once the second meets a child left alone, and is told what lies ahead."""
    dag, posy = cast.make_admin(), cast.make_minor()
    other = Guardianship.objects.create(
        guardian=cast.make_user("Orsola Reed"),
        student=posy,
        consent_at=NOW,
        consent_wording="2026-11",
    )
    lesson, ilse = cast.make_offering(), cast.make_instructor()
    cast.make_booking(cast.make_meeting(lesson, ilse, at("2027-03-12T09:30Z")), posy)
    first = posy.guardianships.exclude(pk=other.pk).get()
    codes = at_once(
        lambda: remove_guardian(actor=dag, guardianship=other, now=NOW),
        lambda: close_account(actor=dag, user=first.guardian, now=NOW),
    )
    assert codes == ["has-bookings"]
    assert posy.guardianships.filter(guardian__is_active=True).count() == 1


def test_a_guardian_removed_while_they_consent_is_refused_or_removed_with_it():
    """No error, and no consent of somebody who answers for the child no more."""
    posy = cast.make_minor(consent=False)
    write(lambda: ask_for_consent(student_id=posy.pk, now=NOW), now=NOW)
    secret = OutboxMessage.objects.get().body.split("/consent/")[1].split("/")[0]
    row, dag = posy.guardianships.get(), cast.make_admin()
    codes = at_once(
        lambda: remove_guardian(actor=dag, guardianship=row, now=NOW),
        lambda: give_consent(secret=secret, wording=wording_in_force(NOW).version, now=NOW),
    )
    assert codes in ([], ["not-found"])
    assert not Guardianship.objects.exists()


def test_an_offer_accepted_while_the_consent_is_taken_back_is_ended_or_refused():
    """The place is nobody's afterwards, and every counter is right."""
    school = School()
    group = school.meeting(school.group, "2027-03-11T05:00Z", places=1)
    waiting = group.waiting.create(student=school.posy, place_kind="player", joined_at=NOW)
    offer = cast.make_booking(
        group,
        school.posy,
        standing="OFFERED",
        answer_by=NOW + timedelta(hours=20),
        waiting_place=waiting,
    )
    row = school.posy.guardianships.get()
    codes = at_once(
        lambda: accept_offer(actor=school.hedda, booking=offer, now=NOW),
        lambda: withdraw_consent(actor=row.guardian, guardianship=row, end_bookings=True, now=NOW),
    )
    assert codes in ([], ["offer-ended"], ["consent-missing"])
    offer.refresh_from_db()
    assert (offer.standing, list(findings())) == ("ENDED", [])


def test_an_account_closed_while_its_invitation_is_used_gains_no_role():
    """Whichever is first, nobody shut out is an instructor, and nobody waits for ever."""
    dag, noor = cast.make_admin(), cast.make_student()
    user = noor.user
    welcome = invite(actor=dag, email=user.email, name="Noor", as_instructor=True, now=NOW)
    body = OutboxMessage.objects.get(subject_key=f"welcome:{welcome.pk}").body
    secret = body.split("/welcome/")[1].split("/")[0]
    values = {"name": "Noor", "time_zone": "UTC", "password": "x"}
    codes = at_once(
        lambda: close_account(actor=dag, user=user, now=NOW),
        lambda: come_in(secret=secret, now=NOW, **values),
    )
    assert codes in ([], ["not-found"], ["not-allowed"], ["conflict"])
    user.refresh_from_db()
    teaches = Instructor.objects.filter(user=user, is_active=True).exists()
    assert user.is_active == teaches == (codes == ["conflict"])


def test_a_reset_asked_for_while_the_address_changes_opens_nothing_at_the_old_one():
    """The link goes to the new address, or is of no use."""
    dag, noor = cast.make_admin(), cast.make_student()
    user, old = noor.user, noor.user.email
    new = {"email": "new@rowanmere.example"}
    write(lambda: ask_new_address(actor=dag, user=user, now=NOW, **new), now=NOW)
    secret = secret_to("new@rowanmere.example")
    codes = at_once(
        lambda: confirm_new_address(secret=secret, now=NOW),
        lambda: send_password_link(user=user, path="/accounts/reset/key/", now=NOW),
    )
    assert codes == []
    assert not OutboxMessage.objects.filter(
        kind="password-reset", state="due", to_address=old
    ).exists()
