"""The simulation in the suite: some seeds on either database; `python -m tests.races.simulation` runs as many as one likes."""

import os

import pytest

from tests.races.simulation.school import School
from tests.races.simulation.shrink import play_seed

pytestmark = pytest.mark.django_db
SEEDS = {"long": 250}.get(os.environ.get("PROFILE", ""), 25)
STEPS = 50


def test_whatever_happens_the_desk_agrees_with_its_model() -> None:
    """Seeds of acts, clock jumps, lost and repeated tasks and mail faults: model, rows, mail and feeds agree (see the folder's files)."""
    school = School()
    assert [report for seed in range(SEEDS) if (report := play_seed(school, seed, STEPS))] == []
