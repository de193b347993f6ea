"""A function fits on one screen and does one thing."""

import ast
from collections.abc import Iterator

from tests.architecture.tree import parsed, python_files

LONGEST = 40
TO_BE_SHORTENED = {
    "tests/functional/api/test_api_versions_seen.py:"
    "test_one_tag_used_many_times_at_once_is_good_for_one_change",
    "tests/functional/api/test_api_waiting.py:"
    "test_a_freed_place_is_offered_a_day_remembered_twice_and_passed_on_once",
    "tests/functional/api/world.py:make_world",
    "tests/functional/pages/browser.py:opens",
    "tests/functional/pages/every_page.py:pages_of",
    "tests/functional/pages/full_school.py:_around",
    "tests/functional/pages/matrix.py:addresses",
    "tests/functional/pages/test_browser_journeys.py:test_booking_by_keyboard_alone",
    "tests/functional/pages/test_browser_times.py:test_a_first_booking_takes_few_tab_stops",
    "tests/functional/pages/test_pages_access.py:test_authorisation_matrix_of_the_pages",
    "tests/functional/pages/test_pages_meetings.py:"
    "test_what_was_called_off_can_be_brought_back_while_that_can_be_done",
    "tests/functional/pages/everywhere.py:everything",
}
"""Functions that are too long so far, as "file:function". Nothing is added here."""


def long_functions() -> Iterator[str]:
    """Functions of more than LONGEST lines, decorators aside; migrations are written by machine."""
    for path in python_files("accounts", "bookings", "config", "tests"):
        for node in ast.walk(parsed(path)):
            if (
                "migrations" not in path.parts
                and isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
                and (node.end_lineno or node.lineno) - node.lineno >= LONGEST
            ):
                yield f"{path}:{node.name}"


def test_functions_stay_short() -> None:
    """A function of more than 40 lines, its docstring included, is several steps that have no
    names yet.
    """
    long = set(long_functions())
    assert long - TO_BE_SHORTENED == set()
    assert TO_BE_SHORTENED - long == set()


def test_only_pages_and_api_wait_to_be_shortened() -> None:
    """What is too long so far is in the functional tests of the API and of the pages alone."""
    folders = ("tests/functional/api/", "tests/functional/pages/")
    assert [place for place in TO_BE_SHORTENED if not place.startswith(folders)] == []
