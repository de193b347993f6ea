"""What `make races` makes of its runs: every fault has its figure, and no missing control passes
for a caught one.
"""

from tests.races import report


def run(
    race: str = "R1", database: str = "sqlite", p99: int = 900, kinds: tuple[str, ...] = ()
) -> dict[str, object]:
    violations = [{"kind": kind, "text": "two at once"} for kind in kinds]
    return {
        "race": race,
        "database": database,
        "seed": "1",
        "p99_ms": p99,
        "locked": 0,
        "busy": 0,
        "violations": violations,
        "statuses": {"201": 1},
    }


def part(*runs: dict[str, object], deadlocks: int = 0, **caught: bool) -> dict[str, object]:
    return {"runs": list(runs), "deadlocks": deadlocks, "caught": caught}


def test_nothing_wrong_and_both_controls_caught_is_a_pass() -> None:
    """The median of R1 is the figure of its database; a control's own violations are what it is
    for.
    """
    control = run("C1", kinds=("overlap",))
    parts = {
        "sqlite": part(run(p99=700), run(p99=2000), run(p99=900), control, C1=True),
        "postgresql": part(run(database="postgresql"), control, C1=True, C2=True),
    }
    result = report.joined(parts)
    assert (
        result["figures"]["controls_caught"],
        result["figures"]["overlaps"],
        result["figures"]["race_p99_ms_sqlite"],
    ) == (2, 0, 900)
    assert report.failures(result, whole=True, databases=list(parts)) == []
    assert "race_p99_ms_sqlite" in report.table(result)


def test_each_kind_of_fault_is_counted_and_fails_the_run() -> None:
    """Whatever a history can show has a figure of its own, and so has a complaint of a race's
    judge.
    """
    for kind, figure in report.KINDS.items():
        result = report.joined({"sqlite": part(run(kinds=(kind,)), C1=True)})
        assert result["figures"][figure] == 1
        assert f"{figure} is 1 and must be 0" in report.failures(
            result, whole=True, databases=["sqlite"]
        )


def test_deadlocks_of_the_database_are_counted_though_no_client_saw_them() -> None:
    """The door's retries hide a deadlock from its client; the database's own count does not."""
    result = report.joined(
        {"postgresql": part(run(database="postgresql"), deadlocks=3, C1=True, C2=True)}
    )
    assert report.failures(result, whole=True, databases=["postgresql"]) == [
        "deadlocks is 3 and must be 0"
    ]


def test_a_request_told_to_come_again_counts_against_the_figures() -> None:
    """On SQLite it waited for the lock in vain; on PostgreSQL it is an answer of the 500s.

    Neither must happen in a race.
    """
    busy = [{**run(database=database), "busy": 2} for database in ("sqlite", "postgresql")]
    figures = report.joined({"sqlite": part(busy[0]), "postgresql": part(busy[1])})["figures"]
    assert (figures["locked"], figures["server_errors"]) == (2, 2)


def test_a_control_that_is_not_caught_everywhere_is_not_caught() -> None:
    """A database that shows nothing fails the run, and so does a control that was never played."""
    seen = {"sqlite": part(C1=False), "postgresql": part(C1=True, C2=True)}
    assert "control C1 was not caught" in report.failures(
        report.joined(seen), whole=True, databases=list(seen)
    )
    unplayed = {"sqlite": part(C1=True), "postgresql": part(C1=True)}
    assert report.failures(report.joined(unplayed), whole=True, databases=list(unplayed)) != []


def test_the_table_says_what_is_wanted_of_each_figure() -> None:
    """Faults that the harness makes are counted and not wanted to be 0; nor are the controls, of
    which a part of the races plays none.
    """
    result = report.joined({"sqlite": part(run(), C1=True), "postgresql": part(C1=True, C2=True)})
    result["figures"] |= {"kills": 4, "mail_faults": 20, "mails_lost": 0}
    said = dict(line.split(maxsplit=1) for line in report.table(result).splitlines() if line)
    wanted = {
        name: said[name].partition("   ")[2]
        for name in ("kills", "mail_faults", "mails_lost", "controls_caught", "overlaps")
    }
    assert wanted == {
        "kills": "made on purpose",
        "mail_faults": "made on purpose",
        "mails_lost": "wanted 0",
        "controls_caught": "of 2 that a whole run plays",
        "overlaps": "wanted 0",
    }


def test_what_a_race_adds_to_a_crowd_is_judged_by_its_ratio() -> None:
    """The median over the rounds of R1's p99 over that of GET me/ fails the run above its bound; a
    part without R1 says nothing.
    """
    timed = [run(p99=p99) | {"me_p99_ms": 500} for p99 in (900, 2010, 4000)]
    result = report.joined({"sqlite": part(*timed, C1=True)})
    assert result["figures"]["race_p99_vs_me_sqlite"] == 4.02
    assert report.failures(result, whole=False, databases=["sqlite"]) == [
        "race_p99_vs_me_sqlite is 4.02 and must be at most 4"
    ]
    untimed = report.joined({"sqlite": part(run("R2"), C1=True)})
    assert untimed["figures"]["race_p99_vs_me_sqlite"] is None
    assert report.failures(untimed, whole=False, databases=["sqlite"]) == []
