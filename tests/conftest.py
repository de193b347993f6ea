"""How the suite behaves: its profiles, and what happens to a test whose service is missing."""

import gc
import os
from collections.abc import Iterator

import pytest
import pytest_django
from hypothesis import HealthCheck, Phase, settings

from tests import emptying, profiles, services, sessions

EXAMPLES = {"mutants": 10, "quick": 25, "ci": 100, "long": 1000}
for _name, _examples in EXAMPLES.items():
    settings.register_profile(
        _name,
        max_examples=_examples,
        deadline=None,
        derandomize=_name in {"mutants", "ci"},
        suppress_health_check=[HealthCheck.too_slow],
        print_blob=True,
        # For a mutant it is enough that an example fails; the smallest one interests nobody.
        phases=[Phase.explicit, Phase.generate] if _name == "mutants" else list(Phase),
    )
settings.load_profile(profiles.NAME)

# Playwright's synchronous calls keep an event loop in the test's thread, which Django would take
# for asynchronous code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--sample",
        type=int,
        default=1,
        metavar="N",
        help="a quick run plays one in N of the tests in integration/ and functional/",
    )


def commits(item: pytest.Item) -> bool:
    """Whether the test commits what it writes, and its tables are emptied after it."""
    mark = item.get_closest_marker("django_db")
    is_marked = mark is not None and bool(mark.kwargs.get("transaction", False))
    return is_marked or bool({"live_server", "transactional_db"} & set(item.fixturenames))


def pytest_collection() -> None:
    """What is collected stays until the end: the garbage collector need not read it, now or later.

    It took a tenth of the run.
    """
    gc.disable()


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.enable()


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test that another profile or the other pass runs, or whose service is missing.

    A missing service fails the test instead where services are required.
    """
    markers = {mark.name for mark in item.iter_markers()}
    is_functional = "functional" in item.path.parts
    is_sampled = is_functional or "integration" in item.path.parts
    sample = item.config.getoption("--sample") if is_sampled else 1
    if profiles.leaves_out(markers, name=item.nodeid, is_functional=is_functional, sample=sample):
        pytest.skip(profiles.LEFT_TO_CI)
    if services.belongs_elsewhere(markers):
        pytest.skip(services.OTHER_PASS)
    is_plain = item.path.parent.name in {"api", "pages"} and not commits(item)
    if profiles.is_left_to_sqlite(markers, name=item.nodeid, is_plain=is_plain, sample=sample):
        pytest.skip(profiles.LEFT_TO_SQLITE)
    for marker in sorted(markers & {"redis", "browser", "node"}):
        reason = services.missing(marker)
        if reason and services.required():
            pytest.fail(f"{reason} (REQUIRE_SERVICES=1)", pytrace=False)
        if reason:
            pytest.skip(reason)


@pytest.fixture(scope="session")
def django_db_use_migrations() -> bool:
    """The tables are made from the models, which takes a tenth of the migrations' time.

    `makemigrations --check` and tests/integration/test_guards.py say that the migrations make the
    same tables.
    """
    return False


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None, django_db_blocker: pytest_django.DjangoDbBlocker
) -> Iterator[None]:
    """End what a live server's thread has left open, so that the database can be dropped."""
    from django.db import connection

    with django_db_blocker.unblock():
        emptying.delete_what_is_there(connection)
    yield
    with django_db_blocker.unblock():
        sessions.end_others(connection)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """Debian's chromium, kept off every network but this machine's."""
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    offline = ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    return {"executable_path": services.CHROMIUM, "args": [*quiet, *offline]}


@pytest.fixture(autouse=True)
def statements_are_counted_anew() -> None:
    """A connection's log of statements holds 9,000, and warns those who count in a full one."""
    from django.db import reset_queries

    reset_queries()


@pytest.fixture(autouse=True)
def final_rows_can_be_emptied_after_the_test(request: pytest.FixtureRequest) -> Iterator[None]:
    """Let the suite's own clean-up delete every row after a test that commits.

    On SQLite the guards of rows that are never deleted would stop it. migrate's signal, which the
    clean-up sends, puts them back for the next test.
    """
    committed = commits(request.node)
    if committed:
        # Asked for here, so that it is cleaned up after this one.
        request.getfixturevalue("transactional_db")
    yield
    if committed:
        from django.db import connection

        from bookings.models import guards

        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                for guard in guards.guards_of(connection):
                    if guard.name.endswith("_is_final_delete"):
                        cursor.execute(guard.drop)
