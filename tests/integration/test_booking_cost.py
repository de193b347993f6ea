"""What a booking and finding a family's students cost, however large the school has grown."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings import door
from bookings.access.students import own_students, students_near
from bookings.domain.vocabulary import NoteState
from bookings.operations.booking import book_slot
from bookings.operations.first_look import book_start
from bookings.queries.slots import StartRefused
from tests import cast
from tests.bench.booking import ABOUT_TRANSACTIONS
from tests.bench.goals import AT_MOST
from tests.cast import NOW, at
from tests.functional.pages.full_school import add_students
from tests.school.crowd import analyze

pytestmark = pytest.mark.django_db
FRIDAY = at("2027-03-05T15:00:00+00:00")


@pytest.mark.parametrize("size", [0, 12])
def test_a_booking_takes_fourteen_statements(size: int) -> None:
    """Locks, rules, rows, audit, webhooks and messages, transactions aside; meetings and an
    assessment that are there change nothing.
    """
    cast.make_policy()
    lesson, ilse, noor = cast.make_offering(), cast.make_instructor(), cast.make_student()
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    for day in range(size):
        cast.make_meeting(lesson, ilse, FRIDAY + timedelta(days=day, hours=2))
        note = cast.make_assessment(noor, ilse)
        note.state, note.released_at = NoteState.RELEASED, NOW - timedelta(days=20 - day)
        note.save()
    with CaptureQueriesContext(connection) as counted:
        booking = door.write(
            lambda: book_slot(
                actor=noor.user,
                student=noor,
                offering=lesson,
                instructor=ilse,
                starts_at=FRIDAY,
                now=NOW,
            ),
            now=NOW,
        )
    sent = [query["sql"] for query in counted if not query["sql"].startswith(ABOUT_TRANSACTIONS)]
    assert len(sent) <= AT_MOST["booking_queries"], "\n".join(sql[:90] for sql in sent)
    assert booking.assessment == (note if size else None)


@pytest.mark.postgres
def test_who_comes_too_late_waits_for_nobody() -> None:
    """A time that is taken is refused without a lock; a free one is booked under the locks."""
    cast.make_policy()
    lesson, ilse, noor = cast.make_offering(), cast.make_instructor(), cast.make_student()
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    cast.make_meeting(lesson, ilse, FRIDAY)
    asked = {
        "actor": noor.user,
        "student": noor,
        "offering": lesson,
        "instructor_id": ilse.pk,
        "now": NOW,
    }
    with CaptureQueriesContext(connection) as late, pytest.raises(StartRefused) as refused:
        door.write(lambda: book_start(starts_at=FRIDAY, **asked), now=NOW)
    with CaptureQueriesContext(connection) as free:
        later = FRIDAY + timedelta(hours=1)
        door.write(lambda: book_start(starts_at=later, **asked), now=NOW)
    assert refused.value.code == "taken"
    assert not any("FOR NO KEY UPDATE" in query["sql"] for query in late)
    assert any("FOR NO KEY UPDATE" in query["sql"] for query in free)


def test_a_familys_students_are_found_without_looking_at_all() -> None:
    """A person by their account and their children by guardianship, once each; among hundreds, the
    plan of SQLite reads no table of students from end to end.
    """
    noor, marlo = cast.make_student(), cast.make_student("Marlo Vance")
    posy = cast.make_minor(guardian=noor.user)
    assert set(own_students(noor.user, now=NOW)) == {noor, posy}
    assert own_students(marlo.user, now=NOW) == [marlo]
    if connection.vendor == "sqlite":
        # The plan follows what was last counted: in a table of three, every order is as good.
        add_students(300)
        analyze()
        assert "SCAN accounts_student" not in students_near(noor.user).explain()
