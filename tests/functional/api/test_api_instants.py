"""Instants as they are read and as they are told: RFC 3339, and what an address does to a plus
sign."""

import pytest

from tests.functional.api.client import Api
from tests.functional.api.instants import LOCAL, instants
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.one_database


@pytest.mark.parametrize(
    "fraction", [".0", ".5", ".123456", ".1234567", ".000000000", "." + "9" * 40]
)
def test_fractions_of_any_length_are_read(school: School, fraction: str) -> None:
    """RFC 3339 section 5.6: time-secfrac = "." 1*DIGIT, so a clock that counts nanoseconds is
    understood."""
    reply = Api(school.noor.user).get(
        f"bookings/?from=2027-03-05T14:59:59{fraction}Z&to=2027-03-05T15:00:01{fraction}Z"
    )
    assert reply.status == 200, reply.body
    booked = Api(school.noor.user).post(
        "bookings/", school.slot(starts_at=f"2027-03-05T15:00:00.{'0' * 9}Z")
    )
    assert (booked.status, booked.json["starts_at"]) == (201, "2027-03-05T15:00:00Z")


def test_a_plus_that_came_as_a_space_is_told(school: School) -> None:
    """An address turns "+" into a space (WHATWG URL, application/x-www-form-urlencoded): the
    refusal says how to write it."""
    noor = Api(school.noor.user)
    for path in ("bookings/?from={}", "slots/?offering=1&from={}", "meetings/?to={}"):
        reply = noor.get(path.format("2027-03-05T15:00:00+01:00"))
        assert (reply.status, reply.code) == (422, "invalid")
        (error,) = reply.json["errors"]
        assert "%2B" in error["detail"], reply.body
    assert noor.get("bookings/?from=2027-03-05T15:00:00%2B01:00").status == 200


def test_a_wall_time_that_comes_twice_has_its_own_code(school: School) -> None:
    """As a wall time in a gap has: a program tells the two apart, and reads which two instants it
    may send."""
    twice = {"starts_at": "2027-11-07T01:30", "time_zone": "America/New_York"}
    booked = Api(school.noor.user).post("bookings/", school.slot(**twice))
    assert (booked.status, booked.code) == (422, "clock-fold")
    assert booked.json["earlier"] == "2027-11-07T01:30:00-04:00"
    assert booked.json["later"] == "2027-11-07T01:30:00-05:00"
    assert [error["pointer"] for error in booked.json["errors"]] == ["#/starts_at"]
    gap = {"starts_at": "2027-03-14T02:30", "time_zone": "America/New_York"}
    jumped = Api(school.noor.user).post("bookings/", school.slot(**gap))
    assert jumped.code == "clock-gap"
    assert [error["pointer"] for error in jumped.json["errors"]] == ["#/starts_at"]


def test_a_refusal_tells_its_instants_with_z(school: School) -> None:
    """The numbers of a rule, the starts nearby and the meetings in the way are instants as well."""
    noor, ilse = Api(school.noor.user), Api(school.ilse.user)
    school.booked()
    refusals = [
        noor.post("bookings/", school.slot(starts_at=starts_at))
        for starts_at in (
            "2027-03-01T20:30:00Z",
            "2027-05-05T15:00:00Z",
            "2027-03-05T15:10:00Z",
            "2027-03-05T15:00:00Z",
        )
    ]
    on = FRIDAY.date().isoformat()
    refusals.append(ilse.post("days-away/", {"first_on": on, "last_on": on}))
    refusals.append(
        noor.get(
            f"slots/explain/?offering={school.consultation.pk}&instructor={school.ilse.pk}"
            "&starts_at=2027-03-05T15:00:00Z"
        )
    )
    found = [pair for reply in refusals for pair in instants(reply.json)]
    assert len(found) > 10
    for name, told in found:
        assert name in LOCAL or told.endswith("Z"), (name, told)
