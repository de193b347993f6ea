"""Bars and consents at the instant at which a student comes of age, between booking and lesson."""

from datetime import datetime, timedelta

import pytest

from accounts.models import Guardianship, Student, User
from bookings.access import own_students, reading_relation
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.barring import bar_guardian, lift_bar
from bookings.operations.guardians import withdraw_consent
from bookings.queries.calendars import events_for
from bookings.queries.consents import has_consent
from tests import cast
from tests.cast import NOW
from tests.integration.coming_of_age import (
    DAY_AFTER,
    MIDNIGHT,
    account,
    book,
    lark,
    live_through,
    orsola,
    reminders,
    sent,
)

__all__ = ["account", "lark", "orsola"]
SECOND = timedelta(seconds=1)


@pytest.fixture
def dag(db: None) -> User:
    return cast.make_admin()


@pytest.fixture
def tarn(lark: Student) -> User:
    """A second guardian of Lark's, who has consented."""
    tarn = cast.make_user("Tarn Reed", "Europe/London")
    lark.guardianships.create(guardian=tarn, consent_at=NOW, consent_wording="2026-11")
    return tarn


def bar(dag: User, guardian: User, at: datetime = NOW) -> Guardianship:
    row = guardian.guardianships.get()
    values = {"guardianship": row, "why": "See the file.", "end_bookings": True, "now": at}
    return write(lambda: bar_guardian(actor=dag, **values), now=at)


def withdraw(guardian: User, row: Guardianship, at: datetime) -> None:
    write(lambda: withdraw_consent(actor=guardian, guardianship=row, now=at), now=at)


def test_a_bar_holds_on_both_sides_of_the_birthday(
    dag: User, orsola: User, tarn: User, lark: Student, account: User
) -> None:
    """Before, the second guardian reads; from midnight on, nobody but Lark does, nor books."""
    lesson = book(lark, orsola, DAY_AFTER)
    note = cast.make_assessment(lark, lesson.meeting.instructor, state="released", released_at=NOW)
    bar(dag, orsola)
    before = MIDNIGHT - SECOND
    for reader, now, reads in (
        (orsola, before, False),
        (orsola, MIDNIGHT, False),
        (tarn, before, True),
        (tarn, MIDNIGHT, False),
        (account, MIDNIGHT, True),
    ):
        assert (reading_relation(reader, note, now=now) == "family") == reads, (reader, now)
        assert (lark in own_students(reader, now=now)) == reads, (reader, now)
        assert bool(events_for(reader, now=now)) == reads, (reader, now)


def test_reminders_after_a_bar(
    dag: User, orsola: User, tarn: User, lark: Student, account: User
) -> None:
    """The grown student is reminded of the lesson the day after; the barred guardian never was."""
    book(lark, orsola, DAY_AFTER)
    bar(dag, orsola)
    live_through(NOW, DAY_AFTER)
    assert "Orsola" not in {name for _, name in [*reminders(), *sent("told", "invitation")]}
    assert ("reminder-1h", "Lark") in reminders()


def test_a_bar_on_a_child_without_an_account_outlives_the_birthday(
    dag: User, orsola: User, tarn: User, lark: Student
) -> None:
    """The grown student has no account, so the second guardian goes on booking, and they alone; the
    last one stays.
    """
    bar(dag, orsola)
    assert own_students(orsola, now=MIDNIGHT) == []
    assert own_students(tarn, now=MIDNIGHT) == [lark]
    with pytest.raises(Refused) as caught:
        bar(dag, tarn, at=MIDNIGHT)
    assert caught.value.code == "last-guardian"


def test_consent_is_needed_until_the_birthday_alone(
    dag: User, orsola: User, lark: Student, account: User
) -> None:
    """The lesson ahead ends with the only consent a second before; at midnight it stays."""
    lesson = book(lark, account, DAY_AFTER)
    row = orsola.guardianships.get()
    with pytest.raises(Refused) as caught:
        withdraw(orsola, row, MIDNIGHT - SECOND)
    assert caught.value.code == "has-bookings"
    withdraw(orsola, row, MIDNIGHT)
    lesson.refresh_from_db()
    assert lesson.standing == "HELD"
    assert has_consent(lark, now=MIDNIGHT) and not has_consent(lark, now=MIDNIGHT - SECOND)


def test_the_only_guardian_may_be_barred_from_the_birthday_on(
    dag: User, orsola: User, lark: Student, account: User
) -> None:
    """A grown student with an account answers for themselves; lifting the bar gives the former
    guardian nothing back.
    """
    with pytest.raises(Refused) as caught:
        bar(dag, orsola, at=MIDNIGHT - SECOND)
    assert caught.value.code == "last-guardian"
    row = bar(dag, orsola, at=MIDNIGHT)
    write(lambda: lift_bar(actor=dag, guardianship=row, now=MIDNIGHT), now=MIDNIGHT)
    assert own_students(orsola, now=MIDNIGHT) == []
