"""Accounts changed by an admin: name, clock, role.

Each is on record, and its person is told.
"""

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Guardianship, Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.accounts import change_account, change_admin
from bookings.operations.closing import close_account, reopen_account
from bookings.queries.accounts_of_people import one_person
from tests import cast
from tests.cast import NOW
from tests.school.lessons import School as Lessons

pytestmark = pytest.mark.django_db
OLD = "ida@rowanmere.example"


@pytest.fixture
def dag():
    return cast.make_admin()


@pytest.fixture
def ida():
    return cast.make_user("Ida Quince", email=OLD)


def change(dag, user, now=NOW, **values):
    return write(lambda: change_account(actor=dag, user=user, now=now, **values), now=now)


def admin(dag, user, is_admin):
    return write(lambda: change_admin(actor=dag, user=user, is_admin=is_admin, now=NOW), now=NOW)


def refused(code, act):
    before = AuditRow.objects.count(), OutboxMessage.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert (AuditRow.objects.count(), OutboxMessage.objects.count()) == before


def told():
    """Who has been written to about what."""
    return list(OutboxMessage.objects.order_by("pk").values_list("to_address", "title"))


def test_a_change_is_on_record_without_its_values(dag, ida):
    """Who, whom and which fields."""
    change(dag, ida, name="Ida Marsh", time_zone="Asia/Kathmandu")
    (row,) = AuditRow.objects.all()
    assert (row.actor, row.verb, row.thing, row.thing_id) == (dag, "changed", "user", ida.pk)
    assert (row.fields, row.reason) == (["name", "time_zone"], "")


def test_the_same_values_change_nothing(dag, ida):
    """Neither a row on record nor an email."""
    change(dag, ida, name="Ida Quince", time_zone="Europe/Dublin")
    assert (AuditRow.objects.count(), told()) == (0, [])


def test_another_clock_writes_reminders_anew():
    """As when the person changes it: what was written ahead would have the old hours."""
    school = Lessons()
    school.lesson_at("2027-03-12T17:00Z", school.noor)
    change(school.admin, school.noor.user, time_zone="Asia/Kathmandu")
    reminders = OutboxMessage.objects.filter(kind="reminder-24h", state="due")
    assert ["22:45–23:10" in row.body for row in reminders] == [True]


def test_the_admin_role_is_given_whole_and_taken_whole(dag, ida):
    """Both of Django's flags, on record, and the person is told each time."""
    for is_admin in (True, False):
        admin(dag, ida, is_admin)
        ida.refresh_from_db()
        assert (ida.is_staff, ida.is_superuser) == (is_admin, is_admin)
    verbs = list(AuditRow.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["made admin", "made no admin"]
    assert told() == [(OLD, "You are now an admin"), (OLD, "You are no longer an admin")]


def test_half_an_admin_is_refused_by_the_database(ida):
    """Typed past every operation."""
    for half in ({"is_staff": True}, {"is_superuser": True}):
        with pytest.raises(IntegrityError), transaction.atomic():
            User.objects.filter(pk=ida.pk).update(**half)


def test_the_last_admin_stays(dag, ida):
    """Nobody could make another. An admin whose account is closed does not count."""
    cast.make_admin("Old Hand", is_active=False)
    refused("last-admin", lambda: admin(dag, dag, False))
    admin(dag, ida, True)
    admin(dag, dag, False)
    assert list(User.objects.filter(is_staff=True, is_active=True)) == [ida]


def test_a_closed_account_is_made_no_admin_and_nobody_twice(dag, ida):
    """Each refusal says what is the matter."""
    refused("already-done", lambda: admin(dag, dag, True))
    refused("already-done", lambda: admin(dag, ida, False))
    User.objects.filter(pk=ida.pk).update(is_active=False)
    refused("already-ended", lambda: admin(dag, ida, True))


def test_only_an_admin_changes_people(ida):
    """The operations ask, whichever interface calls."""
    refused("not-allowed", lambda: change(ida, ida, name="Somebody Else"))
    refused("not-allowed", lambda: admin(ida, ida, True))


def test_an_account_that_changed_since_it_was_read_is_not_changed(dag, ida):
    """Renamed, closed and opened again by what was read of it; what has changed is read again."""
    old = one_person(dag, ida.pk).seen
    change(dag, ida, name="Ida Marsh", seen=old)
    for act in (close_account, reopen_account, change_account):
        refused("stale", lambda act=act: act(actor=dag, user=ida, seen=old, now=NOW))
    closed = close_account(actor=dag, user=ida, seen=one_person(dag, ida.pk).seen, now=NOW)
    assert (closed.name, closed.is_active) == ("Ida Marsh", False)
    reopen_account(actor=dag, user=ida, seen=one_person(dag, ida.pk).seen, now=NOW)


@pytest.mark.parametrize("role", ["instructor", "student", "guardian", "admin"])
def test_a_role_that_came_since_an_account_was_read_refuses_its_closing(dag, ida, role):
    """The admin who closes it has read which roles end."""
    old = one_person(dag, ida.pk).seen
    if role == "instructor":
        Instructor.objects.create(user=ida)
    elif role == "student":
        Student.objects.create(user=ida, level=1, unit=1)
    elif role == "guardian":
        Guardianship.objects.create(guardian=ida, student=cast.make_minor())
    else:
        admin(dag, ida, True)
    refused("stale", lambda: close_account(actor=dag, user=ida, seen=old, now=NOW))
