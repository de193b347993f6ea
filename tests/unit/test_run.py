"""`make test` tells the truth about itself: what ran, what was skipped, and when it is red."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests import profiles, run, services
from tests.conftest import pytest_runtest_setup

REPORT = f"""<testsuites><testsuite>
<testcase name="a"/>
<testcase name="b"><failure message="no"/></testcase>
<testcase name="c"><error message="no"/></testcase>
<testcase name="d"><skipped message="chromium is not installed"/></testcase>
<testcase name="e"><skipped message="{services.OTHER_PASS}"/></testcase>
<testcase name="f"><skipped message="{profiles.LEFT_TO_CI}"/></testcase>
<testcase name="g"><skipped message="{profiles.LEFT_TO_SQLITE}"/></testcase>
</testsuite></testsuites>"""


def test_counts_come_from_the_report() -> None:
    """Errors count as failed, a missing program as skipped with its reason.

    Tests of the other pass are not counted. Those of another profile, and those that are played on
    SQLite alone, are named as such.
    """
    done = run.Pass(name="SQLite", code=1)
    run.count(done, ElementTree.ElementTree(ElementTree.fromstring(REPORT)))
    assert done.sentence() == (
        "SQLite: 1 passed, 2 failed, 1 skipped, 1 left to PROFILE=ci, 1 played on SQLite alone"
        " (1 x chromium is not installed)"
    )
    assert done.red


def test_choosing_nothing_in_one_pass_is_not_red() -> None:
    """With ARGS a pass may choose no test (pytest's exit code 5); that alone is not a failure."""
    done = run.Pass(name="PostgreSQL 17 and Redis 7", code=5)
    assert done.sentence() == "PostgreSQL 17 and Redis 7: nothing chosen"
    assert not done.red


def test_a_missing_service_fails_where_services_are_required(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Under REQUIRE_SERVICES=1 no pass starts when PostgreSQL or Redis does not answer.

    The exit code says so.
    """
    monkeypatch.setenv("REQUIRE_SERVICES", "1")
    monkeypatch.setattr(run, "POSTGRES_URL", "postgres://postgres@127.0.0.1:1/postgres")
    monkeypatch.setattr(run, "REDIS_URL", "redis://127.0.0.1:1/0")
    assert run.main([]) == 1
    assert "PostgreSQL and Redis must answer" in capsys.readouterr().out


class Marked:
    """As much of a collected test as the skipping rule looks at."""

    def __init__(self, *names: str) -> None:
        self.marks = [getattr(pytest.mark, name) for name in names]
        self.nodeid, self.path = "tests/unit/test_it.py::test_it", Path("tests/unit/test_it.py")

    def iter_markers(self) -> list[pytest.MarkDecorator]:
        return self.marks


def test_a_missing_program_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A marked test is skipped with a plain reason where its program is missing.

    It fails where services are required.
    """
    monkeypatch.setattr(services, "CHROMIUM", "/nowhere/chromium")
    monkeypatch.setenv("REQUIRE_SERVICES", "0")
    with pytest.raises(pytest.skip.Exception, match=r"^chromium is not installed$"):
        pytest_runtest_setup(Marked("browser", "journey"))
    monkeypatch.setenv("REQUIRE_SERVICES", "1")
    with pytest.raises(
        pytest.fail.Exception, match=r"^chromium is not installed \(REQUIRE_SERVICES=1\)$"
    ):
        pytest_runtest_setup(Marked("browser", "journey"))


def test_a_test_waits_for_its_own_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    """On SQLite a test marked postgres or redis waits for the other pass.

    It does so even where services are required, for nothing is missing.
    """
    monkeypatch.setattr(services, "on_postgres", lambda: False)
    monkeypatch.setenv("REQUIRE_SERVICES", "1")
    for marker in ("postgres", "redis"):
        with pytest.raises(pytest.skip.Exception, match=services.OTHER_PASS):
            pytest_runtest_setup(Marked(marker))
    monkeypatch.setattr(services, "on_postgres", lambda: True)
    with pytest.raises(pytest.skip.Exception, match=services.OTHER_PASS):
        pytest_runtest_setup(Marked("one_database"))
    pytest_runtest_setup(Marked("postgres"))


@pytest.mark.parametrize(
    ("markers", "on_postgres", "is_left"),
    [
        ({"heavy"}, False, True),
        ({"browser"}, False, True),
        ({"browser", "journey"}, False, False),
        ({"postgres"}, True, False),
    ],
)
@pytest.mark.parametrize("profile", ["quick", "ci", "long"])
def test_a_quick_run_leaves_the_heavy_tests_to_ci(
    monkeypatch: pytest.MonkeyPatch,
    markers: set[str],
    on_postgres: bool,
    is_left: bool,
    profile: str,
) -> None:
    """Under PROFILE=ci and long nothing is left out."""
    monkeypatch.setattr(profiles, "NAME", profile)
    monkeypatch.setattr(services, "on_postgres", lambda: on_postgres)
    assert profiles.leaves_out(markers) is (is_left and profile == "quick")


@pytest.mark.parametrize(("markers", "is_left"), [(set(), True), ({"postgres"}, False)])
def test_a_quick_run_speaks_http_on_one_database(
    monkeypatch: pytest.MonkeyPatch, markers: set[str], is_left: bool
) -> None:
    """But for what is about PostgreSQL itself."""
    monkeypatch.setattr(profiles, "NAME", "quick")
    monkeypatch.setattr(services, "on_postgres", lambda: True)
    assert profiles.leaves_out(markers, is_functional=True) is is_left
    monkeypatch.setattr(services, "on_postgres", lambda: False)
    assert not profiles.leaves_out(markers, is_functional=True)


def test_a_quick_run_of_the_whole_plays_a_sample(monkeypatch: pytest.MonkeyPatch) -> None:
    """One in five, always the same ones; journeys are always played, and CI plays everything."""
    monkeypatch.setattr(services, "on_postgres", lambda: False)
    names = [f"tests/integration/test_it.py::test_{number}" for number in range(1000)]

    def played(*markers: str) -> list[str]:
        left = profiles.leaves_out
        return [name for name in names if not left(set(markers), name=name, sample=5)]

    monkeypatch.setattr(profiles, "NAME", "quick")
    assert 150 < len(played()) < 250
    assert played() == played()
    assert played("browser", "journey") == names
    monkeypatch.setattr(profiles, "NAME", "ci")
    assert played() == names


@pytest.mark.parametrize(
    ("profile", "is_plain", "sample", "markers", "played"),
    [
        ("ci", True, 8, set(), range(200, 300)),
        ("ci", True, 8, {"sql"}, range(1000, 1001)),
        ("ci", True, 8, {"heavy"}, range(1000, 1001)),
        ("ci", True, 8, {"redis"}, range(1000, 1001)),
        ("ci", False, 8, set(), range(1000, 1001)),
        ("ci", True, 1, set(), range(1000, 1001)),
        ("long", True, 8, set(), range(1000, 1001)),
    ],
)
def test_ci_plays_one_plain_test_in_four_on_postgres(
    monkeypatch: pytest.MonkeyPatch,
    profile: str,
    is_plain: bool,
    sample: int,
    markers: set[str],
    played: range,
) -> None:
    """Of the whole suite alone, and never of what hangs on SQL; SQLite plays all."""
    names = [f"tests/functional/api/test_it.py::test_{number}" for number in range(1000)]

    def left_on(is_postgres: bool) -> list[str]:
        monkeypatch.setattr(services, "on_postgres", lambda: is_postgres)
        how = {"is_plain": is_plain, "sample": sample}
        return [name for name in names if profiles.is_left_to_sqlite(markers, name=name, **how)]

    monkeypatch.setattr(profiles, "NAME", profile)
    assert left_on(False) == []
    assert len(names) - len(left_on(True)) in played
    assert left_on(True) == left_on(True)
