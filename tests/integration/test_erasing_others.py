"""Erasure and others: accounts that stay, emails to other people, plans, and a restored school."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from accounts.models import Guardianship, Student, Welcome
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyKind
from bookings.domain.zones import zone
from bookings.models import (
    Booking,
    OutboxMessage,
    PrivacyRequest,
)
from bookings.operations.addresses import ask_new_address, confirm_new_address
from bookings.operations.erasing import erase_due
from bookings.operations.invitations import invite
from bookings.operations.plans import adopt_plan
from bookings.operations.privacy_requests import approve, ask_for_erasure
from bookings.queries.privacy import ERASED_AFTER
from tests import cast
from tests.cast import NOW, user_of
from tests.school.addresses import secret_to
from tests.school.leaving import live
from tests.school.plans import ASKED_AT, PlanningSchool
from tests.school.privacy import DONE, PrivateSchool, dump, erase

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> PrivateSchool:
    return PrivateSchool()


@pytest.mark.parametrize("is_done", [False, True])
def test_a_plan_that_names_a_leaving_student_is_not_adopted(is_done) -> None:
    """It holds ids and hours and stays; it is asked for anew without them."""
    planning = PlanningSchool()
    plan = planning.solved()
    noor = planning.noor
    ask_for_erasure(actor=user_of(noor), student_id=noor.pk, now=ASKED_AT)
    if is_done:
        what = {"student_id": noor.pk, "kind": PrivacyKind.ERASURE}
        approve(actor=planning.admin, now=ASKED_AT, **what)
        request = PrivacyRequest.objects.get()
        assert erase_due(request_id=request.pk, now=ASKED_AT + ERASED_AFTER) is not None
    with pytest.raises(Refused) as caught:
        planning.decide(adopt_plan, plan)
    assert caught.value.code == "plan-outdated"
    assert not Booking.objects.exists()
    plan.refresh_from_db()
    assert (plan.state, "Noor" in dump()) == ("READY", not is_done)


def test_earlier_and_mistyped_addresses_go_too(school) -> None:
    """The address before a change, one that waits to be proven, and one to which an invitation went
    by mistake. A namesake's open invitation stays.
    """
    noor, dag = school.noor, school.dag
    old, name = user_of(noor).email, noor.full_name
    for email in ("noor@typo.example", old):
        invite(actor=dag, email=email, name=name, as_instructor=True, now=NOW)
    for email in ("noor@second.example", "noor@third.example"):
        ask_new_address(actor=dag, user=user_of(noor), email=email, now=NOW)
        if "second" in email:
            confirm_new_address(secret=secret_to(email), now=NOW)
    invite(actor=dag, email="namesake@ash.example", name=name, as_instructor=True, now=DONE)
    erase(school, noor)
    left = dump()
    assert [one for one in (old, "@typo", "@second", "@third") if one in left] == []
    assert Welcome.objects.get().email == "namesake@ash.example"


def test_the_address_of_an_invitation_that_nobody_accepted_goes(school) -> None:
    """An adult who never joined has no account by which their emails are found."""
    robin = Student.objects.create(own_name="Robin Marsh", level=4, own_time_zone=zone("UTC"))
    invite(actor=school.dag, email="robin@marsh.example", name="Robin", student=robin, now=NOW)
    request = ask_for_erasure(actor=school.dag, student_id=robin.pk, reason="Asked.", now=NOW)
    approve(actor=school.dag, student_id=robin.pk, kind=PrivacyKind.ERASURE, now=NOW)
    assert erase_due(request_id=request.pk, now=DONE) is not None
    assert "marsh" not in dump().lower()


def test_an_earlier_address_that_is_anothers_now_stays_theirs(school) -> None:
    """Who has it by now keeps their emails."""
    noor = school.noor
    old = user_of(noor).email
    ask_new_address(actor=school.dag, user=user_of(noor), email="noor@new.example", now=NOW)
    confirm_new_address(secret=secret_to("noor@new.example"), now=NOW)
    marlo = user_of(school.marlo)
    ask_new_address(actor=school.dag, user=marlo, email=old, now=NOW)
    confirm_new_address(secret=secret_to(old), now=NOW)
    kept = OutboxMessage.objects.filter(recipient=marlo, to_address=old).count()
    assert kept
    erase(school, noor)
    assert OutboxMessage.objects.filter(recipient=marlo, to_address=old).count() == kept


def test_emails_to_others_are_emptied_only_where_they_name_the_person(school) -> None:
    """A reminder that waits for Marlo stays, although a word in it holds Posy's name."""
    meeting = school.meeting(school.group, "2027-03-20T10:00Z", places=3)
    cast.make_booking(meeting, school.posy)
    told = {
        "recipient": school.marlo.user,
        "kind": "told",
        "meeting": meeting,
        "made_at": NOW,
        "due_at": DONE,
    }
    rows = [
        OutboxMessage.objects.create(subject_key=f"told:{body}", state_key="x", body=body, **told)
        for body in ("Bring a deposyt.", "Posy has cancelled.")
    ]
    erase(school, school.posy)
    for row in rows:
        row.refresh_from_db()
    assert [(row.body, row.state) for row in rows] == [
        ("Bring a deposyt.", "due"),
        ("", "superseded"),
    ]


def test_an_account_with_another_role_stays(school) -> None:
    """A guardian of two keeps the account with the first, and an instructor who learns keeps it."""
    kit = cast.make_minor("Kit Fell", guardian=school.hedda)
    erase(school, school.posy)
    school.hedda.refresh_from_db()
    assert school.hedda.name == "Hedda Lindqvist-Reed"
    assert list(Guardianship.objects.all().values_list("student", flat=True)) == [kit.pk]
    learner = Student.objects.create(user=school.ilse.user, level=3)
    school.tell(school.marlo.user, learner)
    erase(school, learner)
    assert OutboxMessage.objects.filter(body__contains="Ilse Quarrow has booked").exists()
    school.ilse.user.refresh_from_db()
    assert (school.ilse.user.name, school.ilse.user.is_active) == ("Ilse Quarrow", True)


def test_erasures_are_applied_again_after_a_restore(school, tmp_path) -> None:
    """From the list of ids alone: the restored school does not know that anything was asked."""
    school.write_of(school.noor)
    kept = tmp_path / "ids"
    kept.write_text(f"{school.noor.pk}\n999999\n")
    said = StringIO()
    by = {"by": school.dag.email, "stdout": said}
    call_command("erase_again", str(kept), **by)
    assert "Nothing was written" in said.getvalue()
    call_command("erase_again", str(kept), "--write", **by)
    assert "999999: not in this back-up" in said.getvalue()
    assert "Noor Ashgrove" not in dump()
    assert live(school.noor) == (0, 0)
    told = OutboxMessage.objects.filter(recipient=school.ilse.user).exclude(body="")
    assert "Former" in " ".join(told.values_list("body", flat=True))
    listed = StringIO()
    call_command("erasures", stdout=listed)
    assert listed.getvalue() == f"{school.noor.pk}\n"
    with pytest.raises(CommandError):
        call_command("erase_again", str(kept), by=user_of(school.marlo).email)
