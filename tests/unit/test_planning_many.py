"""Five hundred students at once: an answer in little memory, marked with its gap."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GROUP = "plan_group(plan_instances.parallel(500, meetings=45, places=12, seed=7), seconds=5)"
TERM = "plan_timetable(timetable_instances.term(500, 20, 7, (30, 30, 45, 60)), seconds=5)"
# VmHWM, not ru_maxrss: the latter starts with what the process that started this one had.
PROGRAM = """
from pathlib import Path
from bookings.domain.planning.group_plan import plan_group
from bookings.domain.planning.timetable_plan import plan_timetable
from tests.bench import plan_instances, timetable_instances
plan = {plan}
status = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
megabytes = int(status["VmHWM"].split()[0]) // 1024
print(int(plan.is_stopped), int(plan.values["placed"]), int(plan.gap > 0), megabytes)
"""
MOST_MEGABYTES = 600


@pytest.mark.heavy
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="Linux alone tells the memory")
@pytest.mark.parametrize("plan", [GROUP, TERM], ids=["group", "timetable"])
def test_five_hundred_students_are_answered_in_bounded_memory(plan: str) -> None:
    """After five seconds most are placed, the gap is told, and a process of its own stays small."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(plan=plan)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    is_stopped, placed, has_gap, megabytes = (int(word) for word in done.stdout.split())
    assert is_stopped and has_gap and placed > 250
    assert megabytes < MOST_MEGABYTES
