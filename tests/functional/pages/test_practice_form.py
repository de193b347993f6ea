"""The rows of a practice plan as an instructor sends them."""

from typing import Any

import pytest
from django.template.loader import render_to_string

from bookings.domain.practice import PracticeItem, usual_items
from bookings.pages.forms.practice import PracticePlanForm

OLD = PracticeItem(what="An old air", minutes=5, is_review=True)


def sent(*rows: dict[str, str], usual: bool = False) -> dict[str, Any]:
    found = {
        f"practice-items-{number}-{name}": value
        for number, row in enumerate(rows)
        for name, value in row.items()
    }
    counts = {"practice-items-TOTAL_FORMS": str(len(rows)), "practice-items-INITIAL_FORMS": "0"}
    return {**found, **counts, **({"practice-usual": "on"} if usual else {})}


SCALES = {"what": " Scales ", "minutes": "10"}


def test_rows_become_items_and_empty_rows_do_not() -> None:
    """Spaces around go; a tick says that it is an older piece."""
    form = PracticePlanForm(
        sent(SCALES, {}, {"what": "An old air", "minutes": "5", "is_review": "on"})
    )
    assert form.is_valid()
    assert form.items(level=3, age=None) == [PracticeItem(what="Scales", minutes=10), OLD]


def test_a_row_that_is_emptied_is_taken_away() -> None:
    """The plan until now is filled in; three rows are free, and never more than eight."""
    form = PracticePlanForm(items=[OLD])
    assert len(form.rows.forms) == 4
    assert len(PracticePlanForm(items=[OLD] * 7).rows.forms) == 8
    data = sent({"what": "", "minutes": ""}, SCALES)
    data["practice-items-INITIAL_FORMS"] = "1"
    changed = PracticePlanForm(data, items=[OLD])
    assert changed.is_valid()
    assert [item.what for item in changed.items(level=3, age=None)] == ["Scales"]


def test_the_usual_plan_is_filled_in_for_the_level_and_age() -> None:
    """The tick works without a script, with the level that is sent in the same form."""
    form = PracticePlanForm(sent({}, usual=True))
    assert form.is_valid()
    assert form.items(level=5, age=None) == usual_items(5, None)
    assert form.items(level=5, age=4) == usual_items(5, 4)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (sent({"what": "Scales"}), "Say how many minutes a day."),
        (sent({"minutes": "10"}), "Say what to practise."),
        (sent({"what": "Scales", "minutes": "0"}), "The lowest value is 1."),
        (sent({"what": "x" * 10_000, "minutes": "5"}), "at most 200 characters"),
        (sent(SCALES, usual=True), "Empty the rows first"),
        (sent(*[SCALES] * 9), "A plan has at most 8 items."),
        ({}, "Open the page again."),
    ],
)
def test_what_cannot_be_a_plan_is_said_at_its_row(data: dict[str, Any], said: str) -> None:
    """Half a row, minutes out of range, a text too long, too many rows, and a form without its
    counters.
    """
    form = PracticePlanForm(data)
    assert not form.is_valid()
    assert said in render_to_string("levare/_practice_items.html", {"plan": form})


def test_signs_of_every_script_are_kept() -> None:
    """Emoji and right-to-left text come out as they went in."""
    form = PracticePlanForm(sent({"what": "🎶 سلّم دو", "minutes": "10"}))
    assert form.is_valid()
    assert form.items(level=3, age=None)[0].what == "🎶 سلّم دو"
