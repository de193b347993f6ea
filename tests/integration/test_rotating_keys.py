"""A new note key: everything sealed is found and sealed anew, and nothing is lost."""

import base64
import io
import secrets
import time

import pytest
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection, models, transaction

from accounts.sealed import open_with_key
from accounts.sealed_columns import sealed_columns
from bookings.door import write
from bookings.models import Assessment, BusyCalendar, Intake
from bookings.operations.resealing import reseal_batch
from bookings.queries.data_map import DATA_MAP
from tests import cast
from tests.cast import NOW
from tests.threads import beside

REMARK, HURTS, ADDRESS = "Shy with strangers.", "The left wrist.", "https://busy.example/a.ics"


def key() -> str:
    """A new one of NOTE_KEYS."""
    return base64.b64encode(secrets.token_bytes(32)).decode()


@pytest.fixture
def old(settings) -> list[str]:
    """The keys so far, under which one text of every kind is sealed."""
    return list(settings.NOTE_KEYS)


def sealed_school() -> Assessment:
    """One text in each sealed column."""
    ilse, noor = cast.make_instructor(), cast.make_student("Noor")
    note = cast.make_assessment(noor, ilse)
    note.private_remarks = REMARK
    note.save()
    cast.make_assessment(noor, ilse)  # without remarks: nothing is sealed
    booking = cast.make_booking(cast.make_meeting(cast.make_offering(), ilse, NOW), noor)
    intake = Intake(booking=booking, written_at=NOW)
    intake.hurts = HURTS
    intake.save()
    calendar = BusyCalendar(owner=noor.user, name="Work", host="busy.example", added_at=NOW)
    calendar.address = ADDRESS
    calendar.save()
    TOTP.activate(ilse.user, generate_totp_secret())
    RecoveryCodes.activate(ilse.user)
    return note


def places() -> list[int]:
    """Under which key of NOTE_KEYS each stored text is sealed."""
    return [
        open_with_key(*text)[1]
        for column in sealed_columns()
        for row in column.rows()
        for text in column.texts(row).values()
    ]


def run(*arguments: str) -> str:
    told = io.StringIO()
    call_command("rotate_note_keys", *arguments, stdout=told)
    return told.getvalue()


def test_every_sealed_column_of_the_data_map_is_rotated() -> None:
    """A new sealed column fails here until the map has it, and the map until rotation finds it."""
    mapped = {f"{table.model}.{name}" for table in DATA_MAP for name in table.sealed.split()}
    assert {column.label for column in sealed_columns()} == mapped
    binary = {
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, models.BinaryField)
    }
    assert binary == mapped - {"mfa.Authenticator.data"}


@pytest.mark.django_db
def test_everything_opens_under_the_new_key_alone(old, settings) -> None:
    """And the command says that the old key may go."""
    note = sealed_school()
    codes = RecoveryCodes.activate(note.author.user).get_unused_codes()
    settings.NOTE_KEYS = [key(), *old]
    assert set(places()) == {1}
    assert "Nothing needs an older key" in run("--at-once", "1")
    assert places() == [0] * 5
    settings.NOTE_KEYS = settings.NOTE_KEYS[:1]
    note.refresh_from_db()
    assert note.private_remarks == REMARK
    assert (Intake.objects.get().hurts, BusyCalendar.objects.get().address) == (HURTS, ADDRESS)
    assert RecoveryCodes.activate(note.author.user).get_unused_codes() == codes
    assert "the only key" in run("--check")


@pytest.mark.django_db
def test_a_second_run_writes_nothing(old, settings) -> None:
    """A row under the newest key is left as it is."""
    sealed_school()
    settings.NOTE_KEYS = [key(), *old]
    run()
    before = list(Assessment.objects.values_list("sealed_remarks", flat=True))
    assert "sealed anew" not in run()
    assert list(Assessment.objects.values_list("sealed_remarks", flat=True)) == before


@pytest.mark.django_db
def test_the_check_writes_nothing_and_says_that_the_old_key_is_needed(old, settings) -> None:
    """It fails, so that a script stops before it takes the key out."""
    sealed_school()
    settings.NOTE_KEYS = [key(), *old]
    with pytest.raises(CommandError, match="5 texts are still sealed under older keys"):
        run("--check")
    assert set(places()) == {1}


@pytest.mark.django_db
def test_a_row_that_no_key_opens_is_named_and_the_rest_is_done(old, settings, capsys) -> None:
    """Also bytes that were never sealed."""
    note = sealed_school()
    strange = cast.make_assessment(note.student, note.author, sealed_remarks=b"never sealed")
    settings.NOTE_KEYS = [key()]
    lost = cast.make_assessment(note.student, note.author)
    lost.private_remarks = "Under a key that is gone."
    lost.save()
    settings.NOTE_KEYS = [key(), *old]
    with pytest.raises(CommandError, match="2 rows open with no key"):
        run()
    told = capsys.readouterr().err
    for row in (strange, lost):
        assert f"bookings.Assessment.sealed_remarks, row {row.pk}: no key" in told
    note.refresh_from_db()
    assert open_with_key(bytes(note.sealed_remarks), note.bound_to()) == (REMARK, 0)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_an_edit_during_the_rotation_is_kept(old, settings) -> None:
    """The rotation waits for the row and reads it then; what it saw before is not written back."""
    note = sealed_school()
    settings.NOTE_KEYS = [key(), *old]
    column = next(one for one in sealed_columns() if one.model is Assessment)

    def rotate() -> None:
        write(lambda: reseal_batch(column=column, after=None, size=10), now=NOW)

    with transaction.atomic():
        edited = Assessment.objects.select_for_update().get(pk=note.pk)
        rotation = beside(rotate)
        assert wait_until_one_waits()
        settings.NOTE_KEYS = old  # the editor's process was not restarted yet
        edited.private_remarks = "Newer."
        edited.save()
        settings.NOTE_KEYS = [key(), *old]
    rotation.join(20)
    note.refresh_from_db()
    assert open_with_key(bytes(note.sealed_remarks), note.bound_to()) == ("Newer.", 0)


def wait_until_one_waits() -> bool:
    """Whether somebody waits for a lock in this database, within five seconds."""
    waiting = "SELECT count(*) FROM pg_locks WHERE NOT granted"
    for _ in range(500):
        with connection.cursor() as cursor:
            cursor.execute(waiting)
            if cursor.fetchone()[0]:
                return True
        time.sleep(0.01)
    return False
