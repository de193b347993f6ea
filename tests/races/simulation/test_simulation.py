"""The simulation in the suite: some seeds on either database; `python -m tests.races.simulation`
runs as many as one likes.
"""

from collections import Counter

import pytest

from tests import profiles
from tests.races.simulation.post import FAULTS
from tests.races.simulation.school import School
from tests.races.simulation.shrink import play_seed

pytestmark = [pytest.mark.heavy, pytest.mark.django_db]
SEEDS = {"long": 1000, "ci": 25}.get(profiles.NAME, 4)
STEPS = 50
MET = {
    "mail",
    "done",
    "no-place",
    "offer-ended",
    "placed",
    "declined",
    "lapsed",
    "left",
    "removed",
    "called-off",
    "cancelled-late",
    "not-chosen",
    *FAULTS,
}
"""What any 25 seeds have met, or they show nothing. A quick run plays four."""


def test_whatever_happens_the_desk_agrees_with_its_model() -> None:
    """Seeds of acts, clock jumps, lost and repeated tasks and mail faults: model, rows, mail and
    feeds agree (see the folder's files).
    """
    school, seen = School(), Counter[str]()
    assert [
        report for seed in range(SEEDS) if (report := play_seed(school, seed, STEPS, seen))
    ] == []
    if profiles.is_thorough():
        assert MET - set(seen) == set()
