"""Who approves what was asked about a person's data."""

import pytest

from accounts.models import Student, User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyKind
from bookings.models import PrivacyRequest
from bookings.operations.privacy_requests import approve, ask_for_access, ask_for_erasure
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def dag() -> User:
    return cast.make_admin()


def learns(user: User) -> Student:
    """An admin who is a student too."""
    return Student.objects.create(user=user, level=4, unit=2)


def approving(actor: User, student: Student, kind: PrivacyKind) -> str:
    """The code of the refusal, "" where it is approved."""
    try:
        approve(actor=actor, student_id=student.pk, kind=kind, now=NOW)
    except Refused as refusal:
        return refusal.code
    return ""


@pytest.mark.parametrize("kind", list(PrivacyKind))
def test_an_admin_does_not_approve_what_they_asked_about_themselves(dag, kind) -> None:
    """Source: common practice (four eyes): another admin does."""
    other, own = cast.make_admin("Ysolde Marchant"), learns(dag)
    ask = ask_for_access if kind == PrivacyKind.ACCESS else ask_for_erasure
    ask(actor=dag, student_id=own.pk, now=NOW)
    assert approving(dag, own, kind) == "not-allowed"
    assert PrivacyRequest.objects.get().approved_at is None
    assert approving(other, own, kind) == ""


def test_nor_what_was_asked_about_their_child(dag) -> None:
    """A guardian who is an admin."""
    cast.make_admin("Ysolde Marchant")
    posy = cast.make_minor(guardian=dag)
    ask_for_access(actor=dag, student_id=posy.pk, now=NOW)
    assert approving(dag, posy, PrivacyKind.ACCESS) == "not-allowed"


def test_the_only_admin_approves_their_own(dag) -> None:
    """An account that is closed is no other admin."""
    cast.make_admin("Ysolde Marchant", is_active=False)
    own = learns(dag)
    ask_for_access(actor=dag, student_id=own.pk, now=NOW)
    assert approving(dag, own, PrivacyKind.ACCESS) == ""
