"""What the school lets go of, when, and in how large steps."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.core.exceptions import ImproperlyConfigured
from environ import Env

from accounts.models import Student
from bookings import clock
from bookings.models import (
    Assessment,
    AuditRow,
    Booking,
    Intake,
    OutboxMessage,
    RetentionRun,
)
from bookings.models.guards import definitions
from bookings.queries.retention import KINDS, Kind, due
from bookings.tasks import let_go
from config import retention
from tests import cast
from tests.cast import NOW
from tests.school.retention import OldSchool

BY_CODE = {kind.code: kind for kind in KINDS}
OF_LEAVERS = [code for code in BY_CODE if code.endswith("-of-leavers")]
SECOND = timedelta(seconds=1)


@pytest.fixture(autouse=True)
def _stopped(monkeypatch) -> None:
    """Both clocks stand at NOW."""
    for name in ("now", "machine"):
        monkeypatch.setattr(clock, name, lambda: NOW)


def is_gone(kind: Kind, row) -> bool:
    """Whether the row is deleted or, of a kind that empties columns, these are empty."""
    stored = type(row).objects.filter(pk=row.pk)
    if not kind.empties:
        return not stored.exists()
    return all(
        not bytes(value) if isinstance(value, bytes | memoryview) else not value
        for value in stored.values_list(*kind.empties).get()
    )


@pytest.mark.django_db
@pytest.mark.parametrize("code", [code for code in BY_CODE if code not in OF_LEAVERS])
def test_each_kind_goes_when_its_time_is_over_and_not_a_second_sooner(code: str) -> None:
    """Source: GDPR article 5 (1) (e), storage limitation; the times are the school's own."""
    kind, school = BY_CODE[code], OldSchool()
    until = NOW - timedelta(days=kind.kept_days)
    young = school.row(code, until + SECOND)
    let_go()
    assert not is_gone(kind, young)
    RetentionRun.objects.all().delete()
    old = school.row(code, until - timedelta(days=1))
    told = {one.kind.code: one for one in due(now=NOW, machine=NOW)}[code]
    assert told.count == 1
    assert told.oldest == until - timedelta(days=1)
    let_go()
    assert is_gone(kind, old)
    assert not is_gone(kind, young)


@pytest.mark.django_db
@pytest.mark.parametrize("code", OF_LEAVERS)
def test_what_is_kept_of_a_student_goes_years_after_they_have_left(code: str) -> None:
    """Counted from their last lesson and the last act on their record; nobody who learns here."""
    kind, school = BY_CODE[code], OldSchool()
    row = school.row(code, NOW)
    student = Student.objects.get(is_active=False)
    act = {"verb": "left school", "thing": "student", "thing_id": student.pk}
    until = NOW - timedelta(days=kind.kept_days)
    late = cast.make_booking(cast.make_meeting(school.offering, school.ilse, until), student)
    let_go()
    assert not is_gone(kind, row)  # their last lesson ended after that day
    RetentionRun.objects.all().delete()
    Booking.objects.filter(pk=late.pk).update(
        starts_at=until - timedelta(days=2), ends_at=until - timedelta(days=1)
    )
    Student.objects.update(is_active=True)
    let_go()
    assert not is_gone(kind, row)
    RetentionRun.objects.all().delete()
    Student.objects.filter(pk=student.pk).update(is_active=False)
    AuditRow.objects.create(at=until, **act)
    let_go()
    assert is_gone(kind, row)


@pytest.mark.django_db
def test_a_late_act_on_a_leaver_s_record_keeps_their_notes() -> None:
    """They left yesterday, though their last lesson was long ago."""
    school = OldSchool()
    note = school.row("notes-of-leavers", NOW)
    AuditRow.objects.create(
        at=NOW - timedelta(days=1), verb="left school", thing="student", thing_id=note.student_id
    )
    let_go()
    assert Assessment.objects.exists()


@pytest.mark.django_db
def test_a_note_that_a_booking_carries_goes_and_the_booking_stays() -> None:
    """The booking is what statements add up from."""
    school = OldSchool()
    note = school.row("notes-of-leavers", NOW)
    lesson = cast.make_booking(
        cast.make_meeting(school.offering, school.ilse, NOW - timedelta(days=2000)),
        note.student,
        assessment=note,
    )
    let_go()
    lesson.refresh_from_db()
    assert lesson.assessment is None
    assert not Assessment.objects.exists()


@pytest.mark.django_db
def test_pain_goes_first_and_the_rest_of_an_intake_stays() -> None:
    """TRADE.md 4: intake health 90 days after the lesson."""
    intake = OldSchool().row("health", NOW - timedelta(days=90))
    let_go()
    intake.refresh_from_db()
    assert (intake.hurts, intake.pieces) == ("", "Study 4")


@pytest.mark.django_db
def test_a_school_sets_its_own_times(settings) -> None:
    """INTAKE_HEALTH_DAYS counts from the end of the lesson."""
    settings.RETENTION_DAYS = {**settings.RETENTION_DAYS, "INTAKE_HEALTH_DAYS": 0}
    OldSchool().row("health", NOW)
    let_go()
    assert Intake.objects.get().hurts == ""


@pytest.mark.parametrize("name", sorted(retention.days(Env())))
def test_no_school_sets_a_time_that_breaks_something(name: str, monkeypatch) -> None:
    """Below nought, shorter than a feed looks back, or before any date."""
    for wrong in (retention.LEAST.get(name, 0) - 1, 99_999_999):
        monkeypatch.setenv(name, str(wrong))
        with pytest.raises(ImproperlyConfigured, match=name):
            retention.days(Env())


def test_every_setting_ends_something() -> None:
    """A setting that no kind reads would promise what nobody does."""
    assert {kind.setting for kind in KINDS if kind.setting} == set(retention.days(Env()))


def test_no_kind_touches_a_table_that_the_database_keeps_as_it_is() -> None:
    """The guards would refuse it, and the whole day would fail."""
    tables = {kind.code: apps.get_model(kind.model)._meta.db_table for kind in KINDS}
    final = set(definitions._FINAL.values())
    assert [code for code, table in tables.items() if table in final] == []


@pytest.mark.django_db
def test_an_email_that_waits_keeps_its_text() -> None:
    """However long the server is away."""
    email = OldSchool().row("email-texts", NOW - timedelta(days=900))
    OutboxMessage.objects.update(state="due", sent_at=None)
    let_go()
    email.refresh_from_db()
    assert (email.body, email.to_address) == ("Dear Noor", "noor@rowanmere.example")
