"""Who of the school has read what: recorded once a day, and shown to the family and to admins."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from bookings import clock
from bookings.models import AssessmentReading, DataReading, Intake
from tests.cast import NOW, make_assessment
from tests.functional.pages.school import School, as_user, text_of

HURTS = "canary-0be1 the left wrist"


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> list:
    """The interface's clock, stopped; a test moves it by writing into the list."""
    moved = [NOW]
    monkeypatch.setattr(clock, "now", lambda: moved[0])
    return moved


@pytest.fixture
def hurting(school: School, hands: list) -> School:
    """Noor has written of pain before her lesson with Ilse."""
    intake = Intake(booking=school.booking, written_at=NOW)
    intake.hurts = HURTS
    intake.save()
    return school


def brief_of(school: School) -> str:
    return f"/brief/{school.booking.pk}/"


def lines(school: School, reader) -> str:
    page = text_of(as_user(reader).get(f"/students/{school.noor.pk}/data/"))
    return page.partition("Who has read this data")[2]


@contextmanager
def read_only() -> Iterator[None]:
    """The database takes no write, as a copy of it or a full disk takes none."""
    sqlite = connection.vendor == "sqlite"
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON" if sqlite else "SET TRANSACTION READ ONLY")
        try:
            yield
        finally:
            if sqlite:
                cursor.execute("PRAGMA query_only = OFF")
            transaction.set_rollback(True)  # on PostgreSQL, the end of being read-only


def test_an_instructor_s_reading_of_what_hurts_is_shown_once_a_day(
    hurting: School, hands: list
) -> None:
    """Source: ICO, "Right of access": who has seen it. Read three times on two days."""
    ilse = as_user(hurting.ilse.user)
    for later in (timedelta(), timedelta(hours=1), timedelta(days=1)):
        hands[0] = NOW + later
        assert HURTS in text_of(ilse.get(brief_of(hurting)))
    told = "<b>Ilse Quarrow</b> (instructor) read what hurts before a lesson."
    for reader in (hurting.noor.user, hurting.dag):
        shown = lines(hurting, reader)
        assert shown.count(told) == 2
        assert shown.index("2 March 2027") < shown.index("1 March 2027")
        assert HURTS not in shown


def test_a_family_s_own_reading_is_not_recorded(hurting: School) -> None:
    """Nor is that of an admin, who reads nothing there."""
    form = f"/my-lessons/{hurting.booking.pk}/intake/"
    assert HURTS in text_of(as_user(hurting.noor.user).get(form))
    assert HURTS not in text_of(as_user(hurting.dag).get(form))
    as_user(hurting.noor.user).post(f"/students/{hurting.noor.pk}/data/export/")
    assert not DataReading.objects.exists()
    assert "Nobody." in lines(hurting, hurting.noor.user)


def test_an_admin_s_export_is_shown_to_the_family(hurting: School) -> None:
    """Without the reason, which only admins read."""
    export = f"/students/{hurting.noor.pk}/data/export/"
    for _ in range(2):
        as_user(hurting.dag).post(export, {"reason": "Asked by telephone."})
    shown = lines(hurting, hurting.noor.user)
    assert shown.count("<b>Dag Emberley</b> (admin) downloaded an export.") == 1
    assert "telephone" not in shown


def test_notes_are_counted_by_reader_and_day(hurting: School) -> None:
    """Drafts are not told of, and the author is known anyway."""
    seen = {"reader": hurting.dag, "relation": "admin", "read_at": NOW}
    for state in ("released", "released", "draft"):
        released = NOW if state == "released" else None
        note = make_assessment(hurting.noor, hurting.ilse, state=state, released_at=released)
        for _ in range(2):
            AssessmentReading.objects.create(assessment=note, **seen)
        own = {**seen, "reader": hurting.ilse.user, "relation": "author"}
        AssessmentReading.objects.create(assessment=note, **own)
    shown = lines(hurting, hurting.noor.user)
    assert "<b>Dag Emberley</b> (admin) read two notes." in shown
    assert "Ilse" not in shown


def test_what_hurts_is_read_where_the_database_takes_no_write(hurting: School, caplog) -> None:
    """The lesson may be about to begin. The log says who read, by ids."""
    ilse = as_user(hurting.ilse.user)
    with read_only():
        answer = ilse.get(brief_of(hurting))
    assert answer.status_code == 200
    assert HURTS in text_of(answer)
    assert "a reading could not be recorded" in caplog.text
    assert HURTS not in caplog.text


def test_a_recorded_reading_keeps_the_brief_within_its_statements(hurting: School) -> None:
    """Also the first of a day, with a note to read beside it."""
    make_assessment(hurting.noor, hurting.ilse, state="released", released_at=NOW)
    ilse = as_user(hurting.ilse.user)
    with CaptureQueriesContext(connection) as seen:
        assert ilse.get(brief_of(hurting)).status_code == 200
    asked = [row["sql"] for row in seen if "SAVEPOINT" not in row["sql"]]
    assert DataReading.objects.exists()
    assert len(asked) <= 12, asked


def test_long_lists_of_readings_have_pages(hurting: School) -> None:
    """Twenty a page, the latest first."""
    for days in range(25):
        at = NOW - timedelta(days=days)
        DataReading.objects.create(
            student=hurting.noor,
            reader=hurting.ilse.user,
            relation="instructor",
            what="health",
            booking=hurting.booking,
            on=at.date(),
            first_at=at,
        )
    noor = as_user(hurting.noor.user)
    first = text_of(noor.get(f"/students/{hurting.noor.pk}/data/"))
    second = text_of(noor.get(f"/students/{hurting.noor.pk}/data/?page=2"))
    assert (first.count("read what hurts before"), second.count("read what hurts before")) == (
        20,
        5,
    )
    assert "Earlier readings" in first
