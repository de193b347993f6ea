"""The database's own guards: with the rules out of the way they still hold, and speak the rules'
language.
"""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.models import AuditRow, Booking, Meeting, WaitingPlace, guards
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db


def broken(act):
    """The code of the refusal that the guard which `act` breaks stands for."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        act()
    refusal = guards.as_refusal(caught.value)
    assert refusal is not None, caught.value
    return refusal.code


@pytest.fixture
def ilse():
    return cast.make_instructor()


@pytest.fixture
def lesson():
    return cast.make_offering()


@pytest.mark.parametrize("minutes", [0, 5, 25, -25])
def test_an_instructor_is_never_in_two_live_meetings(ilse, lesson, minutes):
    """Overlap by a cell or by the changeover is refused by the table itself.

    Source: OWASP ASVS 5.0.0, V2.3.4.
    """
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"))
    assert (
        broken(
            lambda: cast.make_meeting(
                lesson, ilse, at("2027-03-12T17:00Z") + timedelta(minutes=minutes)
            )
        )
        == "taken"
    )


def test_meetings_may_touch(ilse, lesson):
    """Half-open periods: one begins when the other's changeover ends."""
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"))
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:30Z"))
    assert Meeting.objects.count() == 2


def test_a_cancelled_or_flagged_meeting_does_not_stand_in_the_way_and_a_revived_one_does(
    ilse, lesson
):
    """The guard looks at live meetings; coming back to life is judged too."""
    first = cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"), status="CANCELLED")
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"))
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"), is_flagged=True)

    def revive():
        first.status = "CONFIRMED"
        first.save()

    assert broken(revive) == "taken"


def test_a_moved_meeting_is_judged_again(ilse, lesson):
    """An update onto another meeting is refused."""
    cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"))
    other = cast.make_meeting(lesson, ilse, at("2027-03-12T19:00Z"))
    assert (
        broken(
            lambda: Meeting.objects.filter(pk=other.pk).update(
                starts_at=at("2027-03-12T16:50Z"), ends_at=at("2027-03-12T17:15Z")
            )
        )
        == "taken"
    )


def test_a_student_is_never_held_in_two_meetings_at_once(ilse, lesson):
    """HELD guards their time; an offer does not, until it is accepted."""
    noor = cast.make_student()
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    cast.make_booking(cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"), places=9), noor)
    second = cast.make_meeting(lesson, wren, at("2027-03-12T17:10Z"), places=9)
    assert broken(lambda: cast.make_booking(second, noor)) == "own-clash"
    second.refresh_from_db()
    offer = cast.make_booking(second, noor, standing=Standing.OFFERED, answer_by=NOW)
    assert (
        broken(
            lambda: Booking.objects.filter(pk=offer.pk).update(
                standing=Standing.HELD, answer_by=None
            )
        )
        == "own-clash"
    )


def test_the_two_places_of_one_masterclass_do_not_clash(ilse):
    """A student may listen and wait to play in the same meeting."""
    noor = cast.make_student()
    meeting = cast.make_meeting(
        cast.make_offering("Masterclass", Kind.MASTERCLASS, 90),
        ilse,
        at("2027-03-12T17:00Z"),
        places=3,
        listener_places=3,
    )
    cast.make_booking(meeting, noor, place_kind=PlaceKind.LISTENER)
    cast.make_booking(meeting, noor)
    assert Booking.objects.count() == 2


def test_no_more_places_than_there_are(ilse, lesson):
    """The counters stop at the places, for players and for listeners."""
    meeting = cast.make_meeting(
        lesson, ilse, at("2027-03-12T17:00Z"), taken=1, listener_places=1, listeners_taken=1
    )
    assert broken(lambda: Meeting.objects.filter(pk=meeting.pk).update(taken=2)) == "no-place"
    assert (
        broken(lambda: Meeting.objects.filter(pk=meeting.pk).update(listeners_taken=2))
        == "no-place"
    )


def test_one_live_booking_and_one_waiting_place_each(ilse, lesson):
    """A second is refused while the first lives."""
    noor = cast.make_student()
    meeting = cast.make_meeting(lesson, ilse, at("2027-03-12T17:00Z"), places=9)
    cast.make_booking(meeting, noor)
    assert broken(lambda: cast.make_booking(meeting, noor)) == "already-booked"
    WaitingPlace.objects.create(meeting=meeting, student=noor, joined_at=NOW)
    assert (
        broken(lambda: WaitingPlace.objects.create(meeting=meeting, student=noor, joined_at=NOW))
        == "already-waiting"
    )


def test_audit_rows_are_never_changed_or_removed():
    """The table itself refuses."""
    row = AuditRow.objects.create(at=NOW, actor=None, verb="booked", thing="booking", thing_id=1)
    assert broken(lambda: AuditRow.objects.filter(pk=row.pk).update(verb="other")) == "not-allowed"
    assert broken(row.delete) == "not-allowed"


def tables():
    """The columns, constraints and indexes of our tables, in the database's own words."""
    shapes = {}
    with connection.cursor() as cursor:
        for name in connection.introspection.table_names(cursor):
            if not name.startswith(("accounts_", "bookings_")):
                continue
            columns = connection.introspection.get_table_description(cursor, name)
            bounds = connection.introspection.get_constraints(cursor, name)
            shapes[name] = (
                {(one.name, one.type_code, one.display_size, one.null_ok) for one in columns},
                sorted(str(sorted(bound.items())) for bound in bounds.values()),
                {bound for bound in bounds if not bound.startswith("__unnamed")},
            )
    return shapes


def drop_all_tables():
    cascade = " CASCADE" if connection.vendor == "postgresql" else ""
    with connection.constraint_checks_disabled(), connection.cursor() as cursor:
        for name in connection.introspection.table_names(cursor):
            cursor.execute(f'DROP TABLE "{name}"{cascade}')


@pytest.mark.heavy
@pytest.mark.django_db(transaction=True)
def test_migrations_make_the_tables_and_guards_of_the_models(settings):
    """The suite's own tables are made from the models, not by the migrations."""
    made = tables()
    settings.MIGRATION_MODULES = {}
    drop_all_tables()
    assert tables() == {}
    call_command("migrate", verbosity=0)
    assert tables() == made
    assert guards.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_missing_guard_is_reported_and_put_back():
    """The system check names it; migrate restores it."""
    from bookings.checks import check_guards

    guard = guards.guards_of(connection)[0]
    with connection.cursor() as cursor:
        cursor.execute(guard.drop)
    assert [message.id for message in check_guards(databases=["default"])] == ["bookings.E002"]
    assert guards.missing(connection) == [guard.name]
    call_command("migrate", verbosity=0)
    assert check_guards(databases=["default"]) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("number", range(4))
def test_a_changed_guard_is_reported_and_replaced(monkeypatch, number):
    """A guard whose text is another than the code's gives way to the code's."""
    guard = guards.guards_of(connection)[number]
    older = replace(guard, create=re.sub(" (ON|WITH) ", r"  \1 ", guard.create))
    with monkeypatch.context() as patch:
        patch.setattr(guards, "guards_of", lambda _: (older,))
        guards.install(connection)
        assert guards.missing(connection) == []
    assert guards.missing(connection) == [guard.name]
    call_command("migrate", verbosity=0)
    assert guards.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_replaced_guard_guards_again(monkeypatch, ilse, lesson):
    """Rows that the older definition let through stop the new one, and the older one stays."""
    guard = guards.guards_of(connection)[0]
    lenient = guard.create.replace("NOT NEW.is_flagged", "NEW.is_flagged").replace(
        "AND NOT is_flagged", "AND is_flagged"
    )
    with monkeypatch.context() as patch:
        patch.setattr(guards, "guards_of", lambda _: (replace(guard, create=lenient),))
        guards.install(connection)
    start = at("2027-03-12T17:00Z")
    cast.make_meeting(lesson, ilse, start)
    second = cast.make_meeting(lesson, ilse, start)
    if connection.vendor == "postgresql":
        with pytest.raises(IntegrityError):
            guards.install(connection)
    second.delete()
    guards.install(connection)
    assert broken(lambda: cast.make_meeting(lesson, ilse, start)) == "taken"
