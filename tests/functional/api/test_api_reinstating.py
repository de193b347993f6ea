"""Bringing a meeting back that was called off, over HTTP."""

from datetime import timedelta

import pytest

from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import FOR_POSY, School

pytestmark = pytest.mark.django_db


def test_what_was_called_off_takes_place_after_all(school: School) -> None:
    """It stands again with its place; who has booked something else meanwhile is named; a second
    time there is nothing to bring back.
    """
    noor, ilse, marlo = (Api(person.user) for person in (school.noor, school.ilse, school.marlo))
    meeting = school.class_on()
    for api in (noor, marlo):
        assert api.post("bookings/", {"meeting": meeting.pk}).status == 201
    path = f"meetings/{meeting.pk}/"
    off = ilse.post(path + "call-off/", {"reason": "A broken string"}, match=ilse.etag(path))
    assert (
        marlo.post(
            "bookings/",
            school.slot(instructor=school.wren.pk, starts_at=meeting.starts_at.isoformat()),
        ).status
        == 201
    )
    back = ilse.post(path + "reinstate/", match=off.etag)
    assert (
        back.status,
        back.json["status"],
        back.json["taken"],
        back.json["called_off_reason"],
    ) == (
        200,
        "CONFIRMED",
        1,
        "",
    )
    assert back.json["left_out"] == [
        {"student": {"id": school.marlo.pk, "name": "Marlo Vance"}, "code": "own-clash"}
    ]
    assert back.etag == ilse.get(path).version
    assert ilse.post(path + "reinstate/", match=off.etag).code == "stale"
    assert ilse.post(path + "reinstate/", match=back.etag).code == "already-done"
    assert [row["status"] for row in noor.get("bookings/").json["results"]] == ["CONFIRMED"]


def test_an_instructor_reads_a_minors_first_name_and_an_admin_their_whole_one(
    school: School,
) -> None:
    """Whoever is left out is named as their roster names them."""
    for who, name in ((school.ilse.user, "Posy"), (school.dag, "Posy Lindqvist-Reed")):
        meeting = school.class_on(
            starts_at=FOR_POSY + timedelta(days=7 if who == school.dag else 5)
        )
        booked = Api(school.hedda).post(
            "bookings/", {"meeting": meeting.pk, "student": school.posy.pk}
        )
        assert booked.status == 201
        Api(who).post(f"meetings/{meeting.pk}/call-off/", {"reason": "A broken string"}, match="*")
        cast.make_booking(
            cast.make_meeting(school.consultation, school.wren, meeting.starts_at), school.posy
        )
        back = Api(who).post(f"meetings/{meeting.pk}/reinstate/", match="*")
        assert [one["student"]["name"] for one in back.json["left_out"]] == [name]
