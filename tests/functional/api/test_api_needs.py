"""What needs an admin over the API: the counts of the page, and nothing about a person."""

from datetime import timedelta

import pytest

from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.school import School

pytestmark = pytest.mark.sql


def test_the_counts_are_those_of_the_page(school: School) -> None:
    """In the order of the page; a kind without any is left out."""
    before = Api(school.dag).get("needs/").json["needs"]
    for hours in (2, 5):
        begun = NOW - timedelta(days=3, hours=hours)
        cast.taught(school.ilse, school.noor, school.consultation, begun)
    found = Api(school.dag).get("needs/").json["needs"]
    assert {"need": "register", "count": 2} in found
    assert "register" not in [one["need"] for one in before]
    assert all(set(one) == {"need", "count"} for one in found)


def test_others_than_admins_are_refused(school: School) -> None:
    """An instructor has Today; a family has My lessons."""
    for user in (school.ilse.user, school.noor.user, school.hedda):
        assert Api(user).get("needs/").code == "not-allowed"
