"""March of one instructor over HTTP: booked, cancelled, called off, missed, taught; then stated.

Source: TRADE.md 1.10 [S88], a music school's published pay sheet, and 1.8 for what each end of a
lesson is worth.
"""

from datetime import timedelta
from typing import Any

import pytest
import time_machine

from bookings.domain.timeline import rfc3339
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.sql

ANY = {"If-Match": "*"}
PERIOD = {"first_on": "2027-03-01", "last_on": "2027-03-31"}


class Month:
    """What happens in it, each act at its own time."""

    def __init__(self, school: School, clock: time_machine.Traveller) -> None:
        self.school, self.clock = school, clock
        self.noor, self.ilse, self.dag = (
            Api(user) for user in (school.noor.user, school.ilse.user, school.dag)
        )

    def booked(self, days: int) -> dict[str, Any]:
        """A consultation so many days after Friday 5 March, 15:00 in Dublin."""
        starts_at = FRIDAY + timedelta(days=days)
        self.clock.move_to(starts_at - timedelta(days=2))
        return self.school.booked(starts_at=rfc3339(starts_at))

    def cancelled(self, days: int, hours_before: int) -> None:
        """Noor cancels so many hours before it; the deadline is 24 hours before."""
        booking = self.booked(days)
        self.clock.move_to(FRIDAY + timedelta(days=days, hours=-hours_before))
        assert self.noor.post(f"bookings/{booking['id']}/cancel/", headers=ANY).status == 200

    def called_off(self, days: int) -> None:
        """Ilse calls it off an hour after it was booked."""
        path = f"meetings/{self.booked(days)['meeting']}/call-off/"
        sent = {"reason": "A broken string"}
        assert self.ilse.post(path, sent, headers=ANY).status == 200

    def marked(self, days: int, attendance: str) -> dict[str, Any]:
        """Booked, and marked so ten minutes after its start."""
        booking = self.booked(days)
        self.clock.move_to(FRIDAY + timedelta(days=days, minutes=10))
        self.mark(booking, attendance)
        return booking

    def mark(self, booking: dict[str, Any], attendance: str) -> None:
        """What the register says from now on."""
        marks = [{"booking": booking["id"], "attendance": attendance}]
        path = f"meetings/{booking['meeting']}/register/"
        assert self.ilse.put(path, {"marks": marks}, headers=ANY).status == 200

    def stated(self) -> dict[str, Any]:
        """The statement that Dag issues on 1 April."""
        self.clock.move_to(at("2027-04-01T08:00Z"))
        made = self.dag.post("statements/", {"instructor": self.school.ilse.pk, **PERIOD})
        assert made.status == 201, made.body
        return dict(made.json)


@pytest.fixture
def month(school: School, clock_stands_still: time_machine.Traveller) -> Month:
    return Month(school, clock_stands_still)


def test_a_month_is_stated_line_by_line(month: Month) -> None:
    """The late cancellation counts, called off and the absent instructor do not, and what was
    cancelled in time has no line.
    """
    month.marked(0, "PRESENT")
    month.cancelled(3, 30)
    month.cancelled(5, 20)
    month.called_off(7)
    month.marked(10, "LATE")
    month.marked(12, "ABSENT_WITHOUT_NOTICE")
    month.marked(14, "ABSENT_WITH_NOTICE")
    month.marked(17, "INSTRUCTOR_ABSENT")
    stated = month.stated()
    told = [(line["outcome"], line["counted_minutes"]) for line in stated["lines"]]
    assert told == [
        ("taught", 25),
        ("cancelled-late", 25),
        ("called-off", 0),
        ("taught", 25),
        ("missed", 25),
        ("missed-with-notice", 0),
        ("instructor-absent", 0),
    ]
    assert stated["total_minutes"] == 100
    assert stated["lines"][-1]["total_minutes"] == 100


def test_a_lesson_that_was_moved_counts_once_where_it_took_place(month: Month) -> None:
    """From Friday to the Monday after: one line, on Monday."""
    booking = month.booked(0)
    monday = FRIDAY + timedelta(days=3)
    moved = month.noor.post(
        f"bookings/{booking['id']}/move/", {"starts_at": rfc3339(monday)}, headers=ANY
    )
    assert moved.status == 200, moved.body
    month.clock.move_to(monday + timedelta(minutes=10))
    month.mark(booking, "PRESENT")
    (line,) = month.stated()["lines"]
    assert (line["on"], line["counted_minutes"]) == ("2027-03-08", 25)


def test_a_line_keeps_the_clock_of_its_date(month: Month) -> None:
    """Before and after Dublin's clocks go forward on 28 March the lesson is at 15:00 there."""
    month.marked(14, "PRESENT")
    booking = month.booked(21)
    month.clock.move_to(FRIDAY + timedelta(days=21, minutes=10))
    month.mark(booking, "PRESENT")
    late = month.school.booked(starts_at="2027-03-29T14:00:00Z")
    month.clock.move_to(at("2027-03-29T14:10Z"))
    month.mark(late, "PRESENT")
    starts = [line["instructor_local_start"] for line in month.stated()["lines"]]
    assert [start[11:] for start in starts] == ["15:00:00+00:00"] * 2 + ["15:00:00+01:00"]


def test_a_register_that_is_late_refuses_the_whole_statement(month: Month) -> None:
    """Source: TRADE.md 1.10 [S88]: late sheets are rejected. Marked at last, it is issued."""
    booking = month.booked(0)
    month.clock.move_to(at("2027-04-01T08:00Z"))
    refused = month.dag.post("statements/", {"instructor": month.school.ilse.pk, **PERIOD})
    assert (refused.code, len(refused.json["meetings"])) == ("register-open", 1)
    month.mark(booking, "PRESENT")
    assert month.stated()["total_minutes"] == 25


def test_a_make_up_counts_when_it_is_given(month: Month) -> None:
    """Missed with notice on the 5th, made up on the 12th: one lesson is paid, not two.

    Source: TRADE.md 1.10 [S88], booked minutes only, except a documented make-up.
    """
    month.marked(0, "ABSENT_WITH_NOTICE")
    month.marked(7, "PRESENT")
    assert month.stated()["total_minutes"] == 25


def test_names_may_go_and_the_statement_still_adds_up(month: Month) -> None:
    """Source: TRADE.md 8, scenario 25: after an erasure the statement still adds up."""
    month.marked(0, "PRESENT")
    before = month.stated()
    user = cast.user_of(month.school.noor)
    user.name = "former student"
    user.save()
    after = month.dag.get(f"statements/{before['id']}/").json
    assert after == before
    assert "Noor" not in str(before)
