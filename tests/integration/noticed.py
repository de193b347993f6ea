"""The meetings that notices are written of."""

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Meeting
from tests.cast import at, make_instructor, make_meeting, make_offering

# Monday 17:00 in New York, after the American change of clocks; Tuesday 08:00 on Lord Howe, before
# the Australian one.
START = at("2027-03-15T21:00Z")


@pytest.fixture
def consultation() -> Meeting:
    return make_meeting(
        make_offering(), make_instructor("Bram Tolliver", "Australia/Lord_Howe"), START
    )


@pytest.fixture
def group() -> Meeting:
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    return make_meeting(offering, make_instructor(), START, title="Hands together", places=4)
