"""Requests to move two lessons next to each other: what they may touch, and their act."""

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from tests.races.acts import Acts, instant
from tests.races.desk.pairs import NEXT_TO, MovePair
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Act
from tests.races.events import Event


class Wanted(NamedTuple):
    """A period that the request asks for, of one student with one instructor."""

    student: int
    instructor: int
    starts_at: datetime
    ends_at: datetime
    held_until: datetime


def wanted(acts: Acts, event: Event) -> list[Wanted]:
    """The lesson's new time; and every time that the sibling's may get, before it or after it.

    By how much the two move depends on where they stand then, which only an order can tell.
    """
    found: list[Wanted] = []
    for instructor, starts_at, ends_at, held_until in acts.wanted(event):
        found.append(Wanted(acts.student(event), instructor, starts_at, ends_at, held_until))
        row = acts.booking(event.arguments["with_sibling"])
        meeting = acts.meeting(row.meeting) if row is not None else None
        if row is not None and meeting is not None:
            reach = NEXT_TO + (row.ends_at - row.starts_at)
            hold = meeting.held_until - meeting.ends_at
            after = ends_at + reach
            found.append(Wanted(row.student, instructor, starts_at - reach, after, after + hold))
    return found


def move_pair(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    sent = event.arguments
    yield MovePair(
        sent["booking"], sent["with_sibling"], sent.get("instructor"), instant(sent["starts_at"])
    )
