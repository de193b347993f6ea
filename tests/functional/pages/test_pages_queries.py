"""How often a page asks the database: at most twelve times, whoever opens it, however many people
and meetings there are.
"""

from datetime import timedelta

import pytest

from accounts.models import Welcome, digest
from bookings.models import Meeting
from tests.cast import NOW
from tests.functional.pages.everywhere import asked, everything
from tests.functional.pages.full_school import fill
from tests.functional.pages.matrix import addresses
from tests.functional.pages.school import School, as_user

pytestmark = pytest.mark.sql

MOST = 12


@pytest.fixture
def full(school: School) -> School:
    fill(school)
    return school


def test_every_page_asks_the_database_twelve_times_at_most(full: School) -> None:
    """Every address of the URLconf as every role, in a school with some hundreds of people and
    meetings."""
    Welcome.objects.create(
        email="tamsin@rowanmere.example",
        name="Tamsin Orr",
        student=full.marlo,
        secret_digest=digest("guest"),
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    users = {
        "nobody": None,
        "student": full.noor.user,
        "other student": full.marlo.user,
        "guardian": full.hedda,
        "instructor": full.ilse.user,
        "foreign instructor": full.wren.user,
        "admin": full.dag,
    }
    too_many, pages = [], everything(full)
    for role, user in users.items():
        client = as_user(user)
        for address, query in pages:
            status, count = asked(client, address, query)
            if count > MOST:
                too_many.append(f"{count} {address} {sorted(query)} as {role}: {status}")
    assert too_many == [], "\n".join(too_many)


@pytest.mark.parametrize("page", ["times", "weekly", "my-lessons", "practice", "meetings"])
def test_naming_a_student_for_the_first_time_asks_twelve_times_at_most(
    full: School, page: str
) -> None:
    """Whom one acts for is remembered with the session: one statement more."""
    addresses(full)  # a term with a weekly place
    for user, child in ((full.hedda, full.posy), (full.dag, full.noor), (full.dag, full.posy)):
        _, count = asked(as_user(user), f"/{page}/", {"student": child.pk})
        assert count <= MOST, user


def test_a_taken_start_asks_twelve_times_at_most(full: School) -> None:
    """The page of a start that somebody else has booked, with the near ones, read at once."""
    taken = Meeting.objects.filter(
        instructor=full.ilse, offering=full.consultation, starts_at__gt=NOW + timedelta(days=3)
    ).earliest("starts_at")
    query = {
        "offering": full.consultation.pk,
        "instructor": full.ilse.pk,
        "starts_at": taken.starts_at.isoformat(),
        "student": full.marlo.pk,
    }
    for user in (full.marlo.user, full.dag):
        client = as_user(user)
        assert "Free times nearby" in client.get("/times/book/", query).content.decode()
        status, count = asked(client, "/times/book/", query)
        assert (status, count <= MOST) == (200, True)
