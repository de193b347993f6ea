"""An account that is closed, or a student who leaves: what lies ahead is named, or ended in the
same step.
"""

import pytest

from accounts.models import Welcome
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.models import Meeting, OutboxMessage
from bookings.operations import closing, consents, invitations
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW
from tests.school.leaving import WHY, School, is_settled, live

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def test_a_student_s_account_is_closed_with_all_they_have_ahead(school):
    """Named first; then settled, signed out, and nothing is booked for them any more."""
    school.fill(school.noor)
    user = school.noor.user
    school.refused("has-bookings", closing.close_account, user=user)
    school.do(closing.close_account, user=user, why="Noor has finished the course.")
    is_settled(school, school.noor)
    user.refresh_from_db()
    school.noor.refresh_from_db()
    assert (user.is_active, school.noor.is_active) == (False, False)
    with pytest.raises(Refused) as caught:
        consents.require_consent(school.noor, now=NOW)
    assert caught.value.code == "already-ended"


def test_a_guardian_s_account_takes_the_child_s_lessons_along(school):
    """The only one who answers for Posy; Posy stays on the list of students."""
    school.fill(school.posy)
    school.refused("has-bookings", closing.close_account, user=school.hedda)
    school.do(closing.close_account, user=school.hedda, why=WHY)
    is_settled(school, school.posy)
    school.posy.refresh_from_db()
    assert school.posy.is_active


def test_a_teacher_s_account_takes_their_meetings_along(school):
    """Dismissed and closed in one step."""
    school.fill(school.noor)
    school.refused("has-bookings", closing.close_account, user=school.ilse.user)
    school.do(closing.close_account, user=school.ilse.user, why="Ilse moves on.")
    school.ilse.refresh_from_db()
    school.ilse.user.refresh_from_db()
    assert (school.ilse.is_active, school.ilse.user.is_active) == (False, False)
    assert not Meeting.objects.exclude(status="CANCELLED").filter(starts_at__gt=NOW).exists()
    assert list(findings()) == []


def test_an_admin_s_account_is_closed_with_the_role_and_never_the_last_one(school):
    """Opened again, the person is no admin."""
    school.refused("last-admin", closing.close_account, user=school.dag)
    other = cast.make_admin("Una Marsh")
    school.do(closing.close_account, user=other)
    other.refresh_from_db()
    assert (other.is_active, other.is_staff, other.is_superuser) == (False, False, False)
    school.do(closing.reopen_account, user=other)
    other.refresh_from_db()
    assert (other.is_active, other.is_staff) == (True, False)


def test_a_closed_account_is_told_so_and_comes_in_by_no_invitation(school):
    """The email leaves although nobody signs in with the account; an open invitation is void."""
    invitations.invite(
        actor=school.dag, email=school.noor.user.email, name="Noor", as_admin=True, now=NOW
    )
    school.do(closing.close_account, user=school.noor.user)
    assert not Welcome.objects.filter(good_until__gt=NOW).exists()
    outbox.drain(lambda: NOW)
    assert OutboxMessage.objects.get(kind="account").state == "sent"


def test_an_account_opened_again_brings_the_student_back(school):
    """What ended stays ended."""
    school.fill(school.noor)
    school.do(closing.close_account, user=school.noor.user, why="A year abroad.")
    school.do(closing.reopen_account, user=school.noor.user)
    school.noor.refresh_from_db()
    assert school.noor.is_active
    assert live(school.noor) == (0, 0)
    consents.require_consent(school.noor, now=NOW)


def test_a_child_without_an_account_leaves_and_comes_back(school):
    """The guardian's account stays, for there may be a brother."""
    school.fill(school.posy)
    school.refused("has-bookings", closing.leave_school, student=school.posy)
    school.do(closing.leave_school, student=school.posy, why=WHY)
    is_settled(school, school.posy)
    school.refused("already-ended", closing.leave_school, student=school.posy)
    school.do(closing.return_to_school, student=school.posy)
    school.posy.refresh_from_db()
    assert school.posy.is_active
