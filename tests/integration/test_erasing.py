"""Erasure: what ends at the request, what goes after fourteen days, and what stays."""

from datetime import timedelta

import pytest

from accounts.models import Student
from bookings import clock, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyKind
from bookings.models import (
    Assessment,
    Booking,
    BusyCalendar,
    DataReading,
    Feed,
    Intake,
    OutboxMessage,
    PrivacyRequest,
    StatementLine,
)
from bookings.operations import closing
from bookings.operations.erasing import erase_due
from bookings.operations.privacy_requests import approve, ask_for_erasure, take_back
from bookings.queries.places_audit import findings
from bookings.queries.privacy import erasures_due
from bookings.tasks import enqueue_due
from tests import cast
from tests.cast import NOW, user_of
from tests.school.leaving import live
from tests.school.privacy import DONE, WORDS, PrivateSchool, ask, dump, erase
from tests.school.statements import statement_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> PrivateSchool:
    return PrivateSchool()


def refused(act, **what) -> str:
    with pytest.raises(Refused) as caught:
        act(**{"now": NOW, **what})
    return caught.value.code


@pytest.mark.parametrize("who", ["noor", "posy"])
def test_nothing_of_an_erased_person_is_left_in_the_database(school, who) -> None:
    """Every table is searched for names, addresses and every word that was stored of them."""
    student: Student = getattr(school, who)
    school.write_of(student)
    account = student.user or school.hedda
    gone = [student.full_name, account.name, account.email, "canary-feed", *WORDS]
    before = dump()
    sealed = ("canary-remark", "canary-hurts")
    assert [word for word in gone if word not in before and word not in sealed] == []
    erase(school, student)
    after = dump()
    assert [word for word in gone if word.lower() in after.lower()] == []
    assert student.full_name == "Former student"
    assert (student.is_active, student.user, student.regular_instructor) == (False, None, None)
    # Sealed text is not found by its words, and readings hold none.
    for model in (Feed, Assessment, Intake, BusyCalendar, DataReading):
        assert not model.objects.exists()
    assert list(findings()) == []


def test_meetings_ahead_end_at_the_request_and_an_open_offer_with_them(school) -> None:
    """Named first. Marlo, who waits for the place, is offered it."""
    school.fill(school.noor)
    noor = user_of(school.noor)
    assert refused(ask_for_erasure, actor=noor, student_id=school.noor.pk) == "has-bookings"
    assert not PrivacyRequest.objects.exists()
    ask(school, school.noor)
    assert live(school.noor) == (0, 0)
    assert Booking.objects.offered().filter(student=school.marlo).exists()
    school.noor.refresh_from_db()
    assert not school.noor.is_active
    assert list(findings()) == []


def test_a_request_can_be_taken_back_until_it_is_done(school) -> None:
    """They learn here again; what ended stays ended. Afterwards there is nothing to take back."""
    school.fill(school.noor)
    request = ask(school, school.noor)
    what = {"student_id": school.noor.pk, "kind": PrivacyKind.ERASURE}
    approve(actor=school.dag, now=NOW, **what)
    take_back(actor=user_of(school.noor), now=NOW + timedelta(days=13), **what)
    school.noor.refresh_from_db()
    assert school.noor.is_active
    assert live(school.noor) == (0, 0)
    assert erase_due(request_id=request.pk, now=DONE) is None
    erase(school, school.noor)
    assert refused(take_back, actor=school.dag, **what) == "not-found"


def test_nothing_goes_before_fourteen_days_or_without_an_admins_approval(school) -> None:
    """The sweep erases when both are there, once."""
    request = ask(school, school.noor)
    what = {"student_id": school.noor.pk, "kind": PrivacyKind.ERASURE}
    assert erasures_due(DONE) == []
    assert refused(approve, actor=user_of(school.noor), **what) == "not-allowed"
    approve(actor=school.dag, now=NOW, **what)
    assert refused(approve, actor=school.dag, **what) == "already-done"
    assert erasures_due(DONE - timedelta(seconds=1)) == []
    assert erase_due(request_id=request.pk, now=DONE - timedelta(seconds=1)) is None
    assert erasures_due(DONE) == [request.pk]


def test_the_work_that_falls_due_erases(school, monkeypatch) -> None:
    """Run twice it does nothing more."""
    ask(school, school.noor)
    approve(actor=school.dag, student_id=school.noor.pk, kind=PrivacyKind.ERASURE, now=NOW)
    monkeypatch.setattr(clock, "now", lambda: DONE)
    enqueue_due()
    enqueue_due()
    school.noor.refresh_from_db()
    assert school.noor.full_name == "Former student"
    assert PrivacyRequest.objects.get().ended_how == "done"


def test_a_statement_still_adds_up_after_an_erasure(school) -> None:
    """Source: TRADE.md 8 scenario 25. Lines hold ids and minutes, and the database keeps them."""
    lesson = cast.taught(school.ilse, school.noor, school.lesson)
    statement_of(school.ilse, school.dag, lesson.meeting)
    lines = list(StatementLine.objects.order_by("pk").values())
    assert lines
    erase(school, school.noor)
    assert list(StatementLine.objects.order_by("pk").values()) == lines


def test_a_family_hears_of_each_step_and_nobody_of_the_erasure_itself(school) -> None:
    """Their address is gone by then."""
    ask(school, school.noor)
    approve(actor=school.dag, student_id=school.noor.pk, kind=PrivacyKind.ERASURE, now=NOW)
    told = OutboxMessage.objects.filter(recipient=school.noor.user, kind="account").order_by("pk")
    assert [row.title for row in told] == [
        "Request to erase your data",
        "Your data will be erased",
    ]
    erase_due(request_id=PrivacyRequest.objects.get().pk, now=DONE)
    assert outbox.drain(lambda: DONE) == 0


def test_an_erased_student_does_not_come_back_and_is_not_erased_twice(school) -> None:
    """Neither while it is asked for nor afterwards."""
    ask(school, school.posy)
    back = {"actor": school.dag, "student": school.posy}
    assert refused(closing.return_to_school, **back) == "already-ended"
    approve(actor=school.dag, student_id=school.posy.pk, kind=PrivacyKind.ERASURE, now=NOW)
    erase_due(request_id=PrivacyRequest.objects.get().pk, now=DONE)
    assert refused(closing.return_to_school, **back) == "already-ended"
    again = {"actor": school.dag, "student_id": school.posy.pk, "reason": "Again."}
    assert refused(ask_for_erasure, **again) == "already-done"
