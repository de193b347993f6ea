"""What a start costs the instructor's day, and hours kept whole, over the API."""

from urllib.parse import urlencode

from bookings.models import AuditRow, Offering
from tests.functional.api.client import Api
from tests.functional.api.nearly_full import NOON, explain
from tests.functional.api.school import School

COSTS = "lesson that day."


def reasons_read(who, school: School) -> list[str]:
    """Every sentence on the slots of a fortnight that mentions the lessons of a day."""
    wanted = {"offering": school.consultation.pk, "student": school.noor.pk}
    results = Api(who).get(f"slots/?{urlencode(wanted)}").json["results"]
    assert results
    return [words for slot in results for words in slot["fit_reasons"] if COSTS in words]


def test_families_never_read_what_a_start_costs_and_the_school_does(school: School) -> None:
    """Noor reads the same starts without it, in the search, the explanation and what is near."""
    assert reasons_read(school.noor.user, school) == []
    told = reasons_read(school.dag, school)
    assert set(told) <= {"Costs no lesson that day.", "Would cost one lesson that day."}
    assert told
    start = {"starts_at": "2027-03-05T15:10:00Z", "student": school.noor.pk}  # off the grid
    for who, is_told in ((school.noor.user, False), (school.dag, True)):
        explained = explain(who, school, NOON, student=school.noor.pk).json
        assert any(COSTS in words for words in explained["fit_reasons"]) == is_told
    for who, is_told in ((school.noor.user, False), (school.dag, True)):
        near = Api(who).post("bookings/", school.slot(**start)).json["near"]
        assert any(COSTS in words for words in near[0]["fit_reasons"]) == is_told


def test_a_packed_offering_is_listed_and_booked(school: School) -> None:
    """After a booking the next start is where its changeover ends."""
    Offering.objects.filter(pk=school.consultation.pk).update(grid="packed")
    noor = Api(school.noor.user)
    wanted = {"offering": school.consultation.pk, "instructor": school.ilse.pk}
    first, second, third = noor.get(f"slots/?{urlencode(wanted)}").json["results"][:3]
    assert noor.post("bookings/", school.slot(starts_at=second["starts_at"])).status == 201
    left = [slot["starts_at"] for slot in noor.get(f"slots/?{urlencode(wanted)}").json["results"]]
    assert left[:2] == [first["starts_at"], third["starts_at"]]
    reply = noor.post("bookings/", school.slot(starts_at=second["starts_at"]))
    assert reply.code in ("taken", "own-clash")


def test_an_instructor_keeps_hours_whole_over_the_api(school: School) -> None:
    """The switch is part of the week: left out it stays, and it is recorded."""
    ilse = Api(school.ilse.user)
    week = ilse.get("teaching-hours/").json
    assert week["keeps_hours_whole"] is False
    sent = {"time_zone": week["time_zone"], "windows": week["windows"]}
    for more, expected in (({"keeps_hours_whole": True}, True), ({}, True)):
        tag = ilse.get("teaching-hours/").headers["ETag"]
        reply = ilse.put("teaching-hours/", sent | more, match=tag)
        assert (reply.status, reply.json["keeps_hours_whole"]) == (200, expected)
    published = AuditRow.objects.filter(verb="published").order_by("pk")
    assert [row.fields for row in published][-2:] == [["windows", "keeps_hours_whole"], ["windows"]]
    assert ilse.get("teaching-hours/").json["keeps_hours_whole"] is True
