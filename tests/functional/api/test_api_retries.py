"""Idempotency-Key: a retried request has one effect and one answer. (HTTP API working group's draft
of that name.)
"""

from datetime import timedelta

import pytest
import time_machine

from bookings.models import Booking, Feed, KeptAnswer
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, Reply, snapshot
from tests.functional.api.school import School

pytestmark = pytest.mark.sql


@pytest.fixture
def noor(school: School) -> Api:
    return Api(school.noor.user)


def same(first: Reply, second: Reply) -> bool:
    """Equal in status, bytes and the header fields that carry meaning."""
    carried = ("Content-Type", "Location", "ETag", "Retry-After")
    return (first.status, first.body) == (second.status, second.body) and all(
        first.headers.get(name) == second.headers.get(name) for name in carried
    )


def test_a_retry_gets_the_same_bytes(school: School, noor: Api) -> None:
    """The second request books nothing and is answered with what the first was."""
    first = noor.post("bookings/", school.slot(), key="one")
    before = snapshot()
    second = noor.post("bookings/", school.slot(), key="one")
    assert first.status == 201
    assert same(first, second)
    assert snapshot() == before


def test_a_retried_cancelling_is_not_stale(school: School, noor: Api) -> None:
    """The retry carries the ETag of before the change, and is answered all the same."""
    booking = noor.post("bookings/", school.slot())
    path = booking.headers["Location"] + "cancel/"
    assert same(
        noor.post(path, match=booking.etag, key="off"),
        noor.post(path, match=booking.etag, key="off"),
    )


def test_a_retried_deletion_is_not_lost(school: School) -> None:
    """What the first request took away is not there for the retry, which is answered with the first
    one's 204.
    """
    ilse = Api(school.ilse.user)
    extra = ilse.post("extra-hours/", {"on": "2027-03-20", "opens": "06:00", "closes": "08:30"})
    statuses = [ilse.delete(extra.headers["Location"], key="gone").status for _ in range(2)]
    assert statuses == [204, 204]
    assert ilse.delete(extra.headers["Location"], key="later").code == "not-found"


def test_a_refusal_by_a_rule_is_kept(school: School, noor: Api) -> None:
    """A retry of a refused request gets the refusal again, its near times included, even when it
    would now succeed.
    """
    booking = school.booked()
    marlo = Api(school.marlo.user)
    first = marlo.post("bookings/", school.slot(), key="mine")
    assert first.code == "taken"
    noor.post(f"bookings/{booking['id']}/cancel/", match="*")
    assert same(first, marlo.post("bookings/", school.slot(), key="mine"))
    assert marlo.post("bookings/", school.slot(), key="again").status == 201


def test_the_same_key_with_another_body_is_refused(school: School, noor: Api) -> None:
    """A key stands for one request; nothing is booked for the other, and the first answer stays."""
    first = noor.post("bookings/", school.slot(), key="one")
    before = snapshot()
    assert (
        noor.post("bookings/", school.slot(starts_at="2027-03-05T16:00:00Z"), key="one").code
        == "key-reused"
    )
    assert snapshot() == before
    assert same(first, noor.post("bookings/", school.slot(), key="one"))


def test_a_refused_key_with_another_body_is_refused_too(school: School, noor: Api) -> None:
    """Also where the first answer was a refusal."""
    assert (
        noor.post("bookings/", school.slot(starts_at="2027-03-05T15:10:00Z"), key="one").code
        == "off-grid"
    )
    assert noor.post("bookings/", school.slot(), key="one").code == "key-reused"
    assert Booking.objects.count() == 0


def test_keys_are_each_persons_own(school: School, noor: Api) -> None:
    """Two people may use one key, and one person may use it at two addresses."""
    assert noor.post("bookings/", school.slot(), key="one").status == 201
    assert (
        Api(school.marlo.user)
        .post("bookings/", school.slot(starts_at="2027-03-05T16:00:00Z"), key="one")
        .status
        == 201
    )
    assert noor.post("feeds/", {"name": "Phone"}, key="one").status == 201


@pytest.mark.parametrize("header", ["plain", '"open', '""', '"a"b"', '"\x7f"', f'"{"x" * 256}"'])
def test_a_key_is_a_quoted_string(school: School, noor: Api, header: str) -> None:
    """A structured-field string (RFC 8941 section 3.3.3); anything else is refused before anything
    is done.
    """
    reply = noor.post("bookings/", school.slot(), headers={"Idempotency-Key": header})
    assert reply.code == "key-malformed"
    assert Booking.objects.count() == 0


def test_a_secret_is_never_kept(school: School, noor: Api) -> None:
    """The retry of what showed a secret is told that it is done, and where to look; the secret is
    in no stored row.
    """
    opened = noor.post("feeds/", {"name": "Phone"}, key="one")
    again = noor.post("feeds/", {"name": "Phone"}, key="one")
    assert (again.code, again.json["location"]) == ("already-done", opened.headers["Location"])
    assert same(again, noor.post("feeds/", {"name": "Phone"}, key="one"))
    assert Feed.objects.count() == 1
    secret = opened.json["address"].rpartition("/")[2].removesuffix(".ics")
    assert all(secret not in row.body for row in KeptAnswer.objects.all())


def test_note_text_is_never_kept(school: School) -> None:
    """Nor is what an assessment says."""
    ilse = Api(school.ilse.user)
    cast.taught(school.ilse, school.noor, school.consultation)
    note = {"student": school.noor.pk, "level": 4, "unit": 2, "obstacle": "canary in the obstacle"}
    assert ilse.post("assessments/", note, key="one").status == 201
    assert ilse.post("assessments/", note, key="one").code == "already-done"
    assert all("canary" not in row.body for row in KeptAnswer.objects.all())


def test_a_key_is_forgotten_after_a_day(
    school: School, noor: Api, clock_stands_still: time_machine.Traveller
) -> None:
    """Twenty-four hours later the key is new again."""
    noor.patch("me/", {"name": "Noor A."}, key="one", match="*")
    clock_stands_still.move_to(NOW + timedelta(hours=23, minutes=59))
    assert noor.patch("me/", {"name": "Noor B."}, key="one", match="*").code == "key-reused"
    clock_stands_still.move_to(NOW + timedelta(hours=24))
    assert noor.patch("me/", {"name": "Noor B."}, key="one", match="*").json["name"] == "Noor B."


def test_a_change_says_which_version_it_changes(school: School, noor: Api) -> None:
    """Without If-Match 428, with an old one 412, with a weak one 412 (RFC 9110 section 13.1.1);
    nothing changes.
    """
    made = noor.post("bookings/", school.slot())
    path = made.headers["Location"]
    written = noor.patch(path + "intake/", {"pieces": "Study 4"}, match=made.etag)
    before = snapshot()
    for verb, where, data in (
        ("POST", "cancel/", None),
        ("POST", "move/", {"starts_at": "2027-03-05T16:00:00Z"}),
        ("PATCH", "intake/", {"pieces": "Study 5"}),
    ):
        assert noor.ask(verb, path + where, data).code == "version-needed"
        for stale in (made.etag, f"W/{written.etag}", '"booking-1-99"', "rubbish"):
            assert noor.ask(verb, path + where, data, match=stale).code == "stale"
    assert snapshot() == before
    assert (
        noor.patch(path + "intake/", {"pieces": "Study 5"}, match=f'"other", {written.etag}').status
        == 200
    )
    assert noor.post(path + "cancel/", match="*").status == 200


def test_a_stale_refusal_is_not_kept(school: School, noor: Api) -> None:
    """412 says to read again: the same key then works with the ETag that was read."""
    made = noor.post("bookings/", school.slot())
    path = made.headers["Location"] + "cancel/"
    assert noor.post(path, match='"booking-0-0"', key="one").code == "stale"
    assert noor.post(path, match=made.etag, key="one").status == 200


@pytest.mark.parametrize("key", ['"one"', "no quotes"])
def test_a_key_is_nothing_to_a_reading(school: School, noor: Api, key: str) -> None:
    """GET is safe to repeat (RFC 9110 section 9.2.1) and takes no key: a reading that is logged is
    answered as often as it is asked for, whatever a client sends with every request."""
    school.released(school.noor, school.ilse)
    booked = school.booked()
    ilse, headers = Api(school.ilse.user), {"Idempotency-Key": key}
    for api, path in (
        (noor, f"students/{school.noor.pk}/assessments/latest/"),
        (ilse, f"bookings/{booked['id']}/brief/"),
    ):
        read = [api.get(path, headers=headers) for _ in range(2)]
        assert [one.status for one in read] == [200, 200]
        assert read[0].body == read[1].body
    assert not KeptAnswer.objects.exists()
