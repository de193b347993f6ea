"""Which students are due a review, in which order, and why."""

from collections.abc import Iterable
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

NEAR = timedelta(days=14)
"""How long before its date a follow-up is due. A lesson that near to the date is the follow-up."""
UNSEEN = timedelta(weeks=6)
"""How long a student may go unseen: the longest follow-up that a note can ask for."""


class Why(StrEnum):
    """Why a student is due, the most pressing first."""

    FOLLOW_UP = "follow-up"
    UNSEEN = "unseen"
    OBSTACLE = "obstacle"


_RANKS = {why: rank for rank, why in enumerate(Why)}


class Progress(NamedTuple):
    """What the order depends on. Dates are on the reader's clock, but for `follow_up_on`, which the
    note says; None where there is none.
    """

    student_id: int
    last_on: date | None
    """The latest lesson."""
    next_on: date | None
    """The next lesson."""
    follow_up_on: date | None
    has_obstacle: bool


class Due(NamedTuple):
    """One student who is due, with every reason, and each in a sentence.

    `last_on` is the date of the latest lesson, None for a student who had none.
    """

    student_id: int
    why: tuple[Why, ...]
    sentences: tuple[str, ...]
    last_on: date | None


def due(rows: Iterable[Progress], today: date) -> list[Due]:
    """Those who are due: by follow-up date, then by time unseen, then those with an open obstacle.

    Whoever had no lesson yet counts as unseen longest. Equal ones keep the order of `rows`.
    """
    found = [(row, reasons) for row in rows if (reasons := why_due(row, today))]
    found.sort(key=lambda pair: _rank(*pair))
    return [
        Due(
            row.student_id,
            reasons,
            tuple(_said(row, why, today) for why in reasons),
            row.last_on,
        )
        for row, reasons in found
    ]


def why_due(row: Progress, today: date) -> tuple[Why, ...]:
    """Every reason why this student is due, the most pressing first; none for one who is not.

    A follow-up that is further ahead was planned so, and a lesson ahead is a review.
    """
    found = []
    if row.follow_up_on is not None and not _is_followed_up(row, row.follow_up_on, today):
        if row.follow_up_on > today + NEAR:
            return ()
        found.append(Why.FOLLOW_UP)
    if row.next_on is None:
        if row.last_on is None or today - row.last_on >= UNSEEN:
            found.append(Why.UNSEEN)
        if row.has_obstacle:
            found.append(Why.OBSTACLE)
    return tuple(found)


def _is_followed_up(row: Progress, on: date, today: date) -> bool:
    """Whether a lesson near the date, or since, was or will be the follow-up."""
    is_seen = row.last_on is not None and row.last_on > on - NEAR
    is_booked = row.next_on is not None and row.next_on <= max(on, today) + NEAR
    return is_seen or is_booked


def _rank(row: Progress, reasons: tuple[Why, ...]) -> tuple[int, date]:
    first = reasons[0]
    if first is Why.FOLLOW_UP:
        on = row.follow_up_on
    else:
        on = row.last_on if first is Why.UNSEEN else None
    return _RANKS[first], on or date.min


def _said(row: Progress, why: Why, today: date) -> str:
    if why is Why.FOLLOW_UP and row.follow_up_on is not None:
        return _follow_up((row.follow_up_on - today).days)
    if why is Why.UNSEEN:
        if row.last_on is None:
            return "No lesson yet."
        return f"Not seen for {(today - row.last_on).days // 7} weeks."
    return "An obstacle is open, and no lesson is booked."


def _follow_up(days: int) -> str:
    counted = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
    if days == 0:
        return "The follow-up date is today."
    return (
        f"The follow-up date is in {counted}."
        if days > 0
        else f"The follow-up date was {counted} ago."
    )
