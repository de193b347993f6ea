"""Covering as a model in whole numbers.

Columns, each 0 or 1: x(l, s, k), substitute s takes lesson l as link k of a chain (1 for a lesson
to be covered, 2 and 3 for a substitute's own); n(l, s), s takes lesson l in their hours and beyond
their load. Rows:

- n(l, s) <= sum of x(l, s, k) over k;
- each lesson is taken at most once;
- of lessons that lie over each other, s takes at most one: a row for each instant at which one of
  them begins, which is enough for stretches of time;
- own lesson m of s lies over l: x(l, s, k) <= sum of x(m, *, j) over j > k, so that m has left and
  no chain is longer than three;
- sum of x(m, *, k) <= sum of x(l, s, k - 1) over the l it lies over, so that m leaves only for
  need;
- the load, found where a solution breaks it: `cover_load`.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

from bookings.domain.planning.cover import Lesson
from bookings.domain.planning.cover_options import FIRST, LAST, SECOND, Taking
from bookings.domain.planning.model import Model, Stage
from bookings.domain.timeline import Period


def stages(those: Sequence[Taking]) -> list[Stage]:
    """What counts, in its order: see `planning.cover`."""
    first = [one for one in those if FIRST in one.columns]
    unagreed = [one for one in those if one.is_outside and not one.is_agreed]
    load = [(one.needs, 1) for one in those if one.needs is not None]
    strangers = [one for one in those if one.by.instructor_id not in one.lesson.met]
    moved = [one for one in those if FIRST not in one.columns]
    return [
        Stage(
            "covered",
            _all_of(first),
            is_most=True,
            known_bound=len({one.lesson.id for one in first}),
        ),
        Stage("yeses", [*_all_of(unagreed), *load], known_bound=0),
        Stage("strangers", _all_of(strangers), known_bound=0),
        Stage("moves", _all_of(moved), known_bound=0),
    ]


def write_rows(model: Model, those: Sequence[Taking]) -> None:
    """Every row but those of the load."""
    for alike in _by_lesson(those).values():
        model.row(_all_of(alike), most=1)
    times = [(one, one.lesson.held) for one in those]
    for begins in those:
        at = begins.lesson.starts_at
        over = [one for one, held in times if one.by is begins.by and _is_at(held, at)]
        if len(over) > 1:
            model.row(_all_of(over), most=1)
    for taking in those:
        if taking.needs is not None:
            taken = [(column, -1) for column in taking.columns.values()]
            model.row([(taking.needs, 1), *taken], most=0)
        _make_room(model, taking, those)
    for link in (SECOND, LAST):
        _move_only_for_need(model, link, those)


def _make_room(model: Model, taking: Taking, those: Sequence[Taking]) -> None:
    for own in taking.in_the_way:
        for link, column in taking.columns.items():
            leaves = _columns(those, own, range(link + 1, LAST + 1))
            model.row([(column, 1), *((other, -1) for other in leaves)], most=0)


def _move_only_for_need(model: Model, link: int, those: Sequence[Taking]) -> None:
    for lesson in {one.lesson.id: one.lesson for one in those if link in one.columns}.values():
        makes_room_for = [
            (one.columns[link - 1], -1)
            for one in those
            if link - 1 in one.columns and lesson in one.in_the_way
        ]
        leaves = [(column, 1) for column in _columns(those, lesson, (link,))]
        model.row([*leaves, *makes_room_for], most=0)


def _columns(those: Sequence[Taking], lesson: Lesson, links: Iterable[int]) -> list[int]:
    of_lesson = [one.columns for one in those if one.lesson.id == lesson.id]
    return [columns[link] for columns in of_lesson for link in links if link in columns]


def _by_lesson(those: Sequence[Taking]) -> dict[int, list[Taking]]:
    found: dict[int, list[Taking]] = {}
    for taking in those:
        found.setdefault(taking.lesson.id, []).append(taking)
    return found


def _is_at(held: Period, at: datetime) -> bool:
    return held.starts_at <= at < held.ends_at


def _all_of(those: Iterable[Taking]) -> list[tuple[int, float]]:
    """How many of these takings are in a plan."""
    return [(column, 1) for taking in those for column in taking.columns.values()]
