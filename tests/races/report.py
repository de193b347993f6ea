"""Figures out of runs, their table, and what is not as it must be."""

from collections import Counter
from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from tests.races.violations import FIGURES

KINDS = {**FIGURES, "outcome": "outcomes_wrong"}
"""What a history shows, and what a race's own judge complains of."""
MAILS = ("mails_lost", "mails_doubled", "mails_disordered")
CONTROLS = ("C1", "C2")
TARGETS_MS = {"race_p99_ms_postgresql": 1500, "race_p99_ms_sqlite": 2500}
AT_MOST = {"race_p99_vs_me_postgresql": 3.0, "race_p99_vs_me_sqlite": 4.0}
"""R1's p99 over that of the same hundred clients asking GET me/ at once on the same server: what a
race adds to a crowd.
"""
CALIBRATION = "calibration_ms"
MADE = {"kills", "mail_faults"}
"""Faults that the harness made: what they did shows in the other figures."""
NOT_ZERO = {"controls_caught", CALIBRATION, *MADE, *TARGETS_MS, *AT_MOST}
"""Figures of which 0 is not what is wanted; times depend on the machine and are told beside their
target, ratios are judged.
"""
Result = dict[str, Any]


def joined(parts: Mapping[str, Mapping[str, Any]]) -> Result:
    """One result of what each database gave.

    A control's own violations are what it is for, and are not counted.
    """
    runs = [run for part in parts.values() for run in part["runs"]]
    figures: dict[str, Any] = dict.fromkeys(KINDS.values(), 0)
    kinds = Counter(
        violation["kind"] for run in runs if not _control(run) for violation in run["violations"]
    )
    figures |= {KINDS[kind]: count for kind, count in kinds.items()}
    figures["deadlocks"] += sum(part["deadlocks"] for part in parts.values())
    for run in runs:
        if not _control(run):
            figures["locked"] += run["locked"]
            # Told to come again: on SQLite it waited for the lock in vain, elsewhere it lost every
            # retry.
            figures["locked" if run["database"] == "sqlite" else "server_errors"] += run["busy"]
    caught: dict[str, list[bool]] = {}
    for part in parts.values():
        for name, seen in part["caught"].items():
            caught.setdefault(name, []).append(seen)
    figures["controls_caught"] = sum(all(seen) for seen in caught.values())
    figures |= dict.fromkeys(MAILS, None)
    for database in parts:
        timed = [run for run in runs if run["race"] == "R1" and run["database"] == database]
        times = [run["p99_ms"] for run in timed]
        ratios = [run["p99_ms"] / run["me_p99_ms"] for run in timed if "me_p99_ms" in run]
        figures[f"race_p99_ms_{database}"] = round(median(times)) if times else None
        figures[f"race_p99_vs_me_{database}"] = round(median(ratios), 2) if ratios else None
    return {"figures": figures, "controls": caught, "runs": runs}


def _control(run: Mapping[str, Any]) -> bool:
    return run["race"] in CONTROLS


def add_faults(result: Result, profile: str) -> None:
    """Adds what kills and faults give, where that part is there."""
    try:
        from tests.races import faults
    except ImportError:
        print("kills and faults: not part of this harness yet, so nothing is said of mails")
        return
    figures, runs = faults.run(profile)
    for name, value in figures.items():
        result["figures"][name] = (result["figures"].get(name) or 0) + value
    result["runs"] += runs


def failures(result: Result, *, whole: bool, databases: Sequence[str]) -> list[str]:
    """What is not as it must be, in sentences.

    A part of the races is not asked for what only the whole can show.
    """
    figures = result["figures"]
    wrong = [
        f"{name} is {value} and must be 0"
        for name, value in figures.items()
        if name not in NOT_ZERO and value
    ]
    wrong += [
        f"{name} is {figures[name]} and must be at most {most:g}"
        for name, most in AT_MOST.items()
        if (figures.get(name) or 0) > most
    ]
    wrong += [
        f"control {name} was not caught"
        for name, seen in result["controls"].items()
        if not all(seen)
    ]
    if whole and "postgresql" in databases and figures["controls_caught"] != len(CONTROLS):
        wrong.append(
            f"{figures['controls_caught']} kinds of control were caught and must be {len(CONTROLS)}"
        )
    for run in result["runs"]:
        if not _control(run):
            wrong += [
                f"  {run['database']} {run['race']} (seed {run['seed']}): {v['kind']}: {v['text']}"
                for v in run["violations"][:5]
            ]
    return wrong


def table(result: Result) -> str:
    """A line for each run and one for each figure."""
    lines = [
        f"\n{'race':5}{'database':12}{'what':56}"
        f"{'requests':>8}{'p50 ms':>8}{'p99 ms':>8}{'me/ p99':>8}  answers"
    ]
    for run in result["runs"]:
        answers = ", ".join(
            f"{count} x {status}" for status, count in run.get("statuses", {}).items()
        )
        wrong = (
            f"  {len(run['violations'])} WRONG"
            if run.get("violations") and not _control(run)
            else ""
        )
        times = "".join(
            f"{run.get(name, ''):>8}" for name in ("requests", "p50_ms", "p99_ms", "me_p99_ms")
        )
        lines.append(
            f"{run['race']:5}{run['database']:12}{run.get('title', '') + wrong:56}{times}  "
            f"{answers}"
        )
    lines.append("")
    for name, value in result["figures"].items():
        lines.append(f"{name:26}{'not measured' if value is None else value:>14}   {_wanted(name)}")
    return "\n".join(lines)


def _wanted(name: str) -> str:
    if name in TARGETS_MS:
        return f"wanted < {TARGETS_MS[name]} on an idle machine"
    if name in AT_MOST:
        return f"wanted <= {AT_MOST[name]:g}"
    if name == CALIBRATION:
        return "a fixed loop of plain Python: how fast this machine was in this run"
    if name in MADE:
        return "made on purpose"
    return f"of {len(CONTROLS)} that a whole run plays" if name == "controls_caught" else "wanted 0"
