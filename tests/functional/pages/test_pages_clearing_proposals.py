"""Times proposed in hours that are cleared: who reads of their end."""

from datetime import timedelta

import pytest

from bookings.models import ProposedTimes
from tests import cast
from tests.functional.pages.clearing import looked_at
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import as_user
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db
ILL_DAY = {"first_on": "2027-03-12"}


def test_an_instructor_reads_no_guardian_by_name_where_only_proposed_times_end(
    hands: Hands,
) -> None:
    """The guardian of a child who holds no lesson in these hours; an admin reads the name."""
    school = CoveringSchool()
    hands.at = DAY + timedelta(hours=7)
    until = DAY + timedelta(hours=12)
    proposal = ProposedTimes.objects.create(
        student=school.kit,
        offering=school.offering,
        instructor=school.ilse,
        made_at=hands.at,
        answer_by=until,
    )
    held = {"status": "TENTATIVE", "is_proposed": True}
    starts_at = DAY + timedelta(hours=16)
    meeting = cast.make_meeting(school.offering, school.ilse, starts_at, **held)
    cast.make_booking(meeting, school.kit, standing="OFFERED", answer_by=until, proposed=proposal)
    page, _ = looked_at(as_user(school.ilse.user), **ILL_DAY)
    assert "a guardian of Kit" in page
    assert school.hedda.name not in page
    shown, _ = looked_at(as_user(school.admin), instructor=school.ilse.pk, **ILL_DAY)
    assert f"{school.hedda.name}, for {school.kit.full_name}" in shown
