"""Ilse on a Wednesday that is nearly full, over the API."""

from datetime import timedelta
from urllib.parse import urlencode

import pytest

from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.school import School

NOON = at("2027-03-03T12:00:00Z")


def explain(who, school: School, starts_at=NOON, **more):
    """The answer of slots/explain/ for a consultation with Ilse."""
    wanted = {
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": starts_at.isoformat(),
        **more,
    }
    return Api(who).get(f"slots/explain/?{urlencode(wanted)}")


def starts(who, school: School, since, until) -> list[str]:
    """The starts that a search in [since, until) with Ilse finds, UTC, at any hour."""
    wanted = {
        "night": "include",
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "from": since.isoformat(),
        "to": until.isoformat(),
    }
    return [
        slot["starts_at"] for slot in Api(who).get(f"slots/?{urlencode(wanted)}").json["results"]
    ]


@pytest.fixture
def two_hours(school: School) -> School:
    """Ilse teaches 120 minutes in a row on Wednesday, from 10:05 to 12:10."""
    hour = cast.make_offering("Long lesson", "private-lesson", 60)
    for before in (115, 50):
        cast.make_meeting(hour, school.ilse, NOON - timedelta(minutes=before))
    return school
