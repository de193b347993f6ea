"""An instructor allows a start on their hours page; the school then plans a group meeting there."""

import pytest

from bookings.models import LoadAllowance, Meeting
from tests.cast import at
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.django_db

NIGHT = {"on": "2027-03-20", "at": "21:00"}


def asked(school: School) -> dict[str, object]:
    named = {"offering": school.group.pk, "instructor": school.ilse.pk}
    return {**named, **NIGHT, "title": "Airs", "places": 6}


def test_a_start_outside_the_hours_waits_for_the_instructor(school: School) -> None:
    """The admin reads who can allow it and keeps what was typed; after the yes it is added."""
    dag, ilse = as_user(school.dag), as_user(school.ilse.user)
    refused = dag.post("/meetings/new/", asked(school))
    assert refused.status_code == 409
    assert "Only Ilse Quarrow can allow this time" in text_of(refused)
    assert "Airs" in refused.content.decode()
    assert ilse.post("/hours/allowed/", NIGHT).status_code == 302
    assert "Saturday 20 March, 21:00" in text_of(ilse.get("/hours/allowed/"))
    assert dag.post("/meetings/new/", asked(school)).status_code == 302
    assert Meeting.objects.get(title="Airs").starts_at == at("2027-03-20T21:00Z")


def test_an_admin_does_not_allow_it_for_them(school: School) -> None:
    """The form is not shown to an admin, and what they send is refused."""
    dag = as_user(school.dag)
    assert "Allow this start" not in text_of(
        dag.get(f"/hours/allowed/?instructor={school.ilse.pk}")
    )
    sent = {"instructor": school.ilse.pk, **NIGHT}
    assert dag.post("/hours/allowed/", sent).status_code == 403
    assert not LoadAllowance.objects.exists()


def test_a_time_that_the_clock_skips_is_not_allowed(school: School) -> None:
    """On 28 March 01:30 does not exist in Dublin; what was typed stays."""
    sent = {"on": "2027-03-28", "at": "01:30"}
    page = as_user(school.ilse.user).post("/hours/allowed/", sent)
    assert (page.status_code, 'value="01:30"' in page.content.decode()) == (422, True)
