"""Times that suit stays small and asks little of the database, however many people teach."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.functional.pages.large import add_instructors
from tests.functional.pages.school import School, as_user

pytestmark = pytest.mark.sql

WEEK = "/times/?since=2027-03-08"
MOST_BYTES, MOST_QUERIES = 150_000, 12


@pytest.mark.parametrize("more", [0, 50])
def test_times_that_suit_is_small_whoever_teaches(school: School, more: int) -> None:
    """At most 150 kB and 12 queries with two instructors and with 52, whose starts lie at every
    quarter of an hour.
    """
    add_instructors(school, more)
    client = as_user(school.noor.user)
    client.get(WEEK)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        page = client.get(WEEK)
    told = "\n".join(row["sql"][:160] for row in asked.captured_queries)
    assert len(page.content) <= MOST_BYTES
    assert len(asked) <= MOST_QUERIES, told
