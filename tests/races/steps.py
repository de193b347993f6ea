"""Each request as acts of the model, and the desks that it may leave."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from tests.races import steps_books as books
from tests.races import steps_proposals as proposals
from tests.races.acts import Acts, changes, instant, succeeded
from tests.races.desk.lessons import BookSlot, CancelSlot, Lesson, MoveSlot, TakeWeekly
from tests.races.desk.meetings import ChangeMeeting, GoAway
from tests.races.desk.owed import MakeUp
from tests.races.desk.places import BookPlace, ChangePlace, LeavePlace
from tests.races.desk.rows import ALWAYS, Desk, Meeting, Wait
from tests.races.desk.setting import Act, Setting
from tests.races.desk.waiting import Accept, Decline, JoinLine, Lapse, LeaveLine
from tests.races.events import Event
from tests.races.pairs import move_pair

Step = Callable[[Acts, Desk, Event], Iterable[Act]]
NONE = -1
"""The id of what a refused request has not made."""


def apply(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk]:
    """The desks that this write may leave, its answer being what it was; none where the rules
    forbid it.
    """
    tag = event.arguments.get("if_match", "*")
    version = ("version", tag)
    if tag != "*" and version in desk.marks:
        return  # two changes of one version
    marks = [("changed", *thing) for thing in acts.things(event)]
    for act in acts_of(acts, desk, event):
        if next(act.refusals(desk, acts.setting), None) is None:
            yield act.done(desk, acts.setting).marked(*marks, *([version] if tag != "*" else []))


def acts_of(acts: Acts, desk: Desk, event: Event) -> Iterable[Act]:
    """What this request may have been: one act for each row that it can have made."""
    return STEPS[event.operation](acts, desk, event)


def _book_slot(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    ((instructor, *times),) = acts.wanted(event)
    if succeeded(event) and instant(event.body["starts_at"]) != times[0]:
        return
    for meeting, booking in _made(acts, desk, event):
        booked = BookSlot(_lesson(acts, event, meeting, booking, instructor, *times))
        owed = event.arguments.get("owed_lesson")
        yield booked if owed is None else MakeUp(booked, owed)


def _weekly(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    """A refusal names the dates that cannot be had, and no others."""
    unused = (row for row in acts.new_rows(event) if desk.booking(row.id) is None)
    rows = {row.starts_at: (row.meeting, row.id) for row in unused}
    wanted = acts.wanted(event)
    if changes(event) and any(starts_at not in rows for _, starts_at, _, _ in wanted):
        return
    lessons = [
        _lesson(acts, event, *rows.get(starts_at, (NONE, NONE)), instructor, starts_at, *ends)
        for instructor, starts_at, *ends in wanted
    ]
    yield TakeWeekly(acts.student(event), tuple(lessons))


def _book_place(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    for _, booking in _made(acts, desk, event):
        yield BookPlace(acts.student(event), event.arguments["meeting"], acts.kind(event), booking)


def _cancel(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    pk = event.arguments["booking"]
    row = desk.booking(pk)
    meeting = desk.meeting(row.meeting) if row is not None else None
    yield CancelSlot(pk) if meeting is not None and meeting.one_on_one else LeavePlace(pk)


def _move(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    sent = event.arguments
    if "meeting" in sent:
        for _, booking in _made(acts, desk, event):
            yield ChangePlace(sent["booking"], sent["meeting"], booking)
        return
    for _, *times in acts.wanted(event):
        yield MoveSlot(sent["booking"], sent.get("instructor"), *times)


def _wait(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    wanted = event.arguments["meeting"], acts.student(event), acts.kind(event)
    if not changes(event):
        yield JoinLine(Wait(NONE, ALWAYS[0], *wanted))
    for row in acts.after.waiting.values() if changes(event) else ():
        is_new = row.id not in acts.before.waiting and desk.wait(row.id) is None
        same = (row.meeting, row.student, row.place_kind) == wanted
        if is_new and same and row.id == event.body.get("id", row.id):
            yield JoinLine(Wait(row.id, row.joined_at, *wanted))


def _leave_list(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield LeaveLine(acts.student(event), event.arguments["meeting"], acts.kind(event))


def _accept(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield Accept(event.arguments["booking"])


def _decline(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield Decline(event.arguments["booking"])


def _lapse(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield Lapse(event.arguments["booking"])


def _places(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    names = {"player": "places", "listener": "listener_places"}
    sent = event.arguments
    places = {kind: sent[name] for kind, name in names.items() if name in sent}
    yield ChangeMeeting(sent["meeting"], places)


def _go_away(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    call_off, left = bool(event.arguments.get("call_off")), event.operation == "dismiss"
    act = GoAway(acts.days(event), call_off, left)
    listed = event.body.get("called_off")
    inside = {row.id for row in act.in_the_way(desk, acts.setting)}
    if listed is None or {row["id"] for row in listed} == inside:
        yield act


@dataclass(frozen=True, slots=True)
class _Renew:
    """A feed's address is renewed, which only a mark shows."""

    feed: int
    address: str

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from ()

    def done(self, desk: Desk, setting: Setting) -> Desk:
        old = {mark for mark in desk.marks if mark[:2] == ("feed", self.feed)}
        kept = desk._replace(marks=desk.marks - old)
        return kept.marked(("feed", self.feed, secret_of(self.address)))


def _renew(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield _Renew(event.arguments["feed"], event.body.get("address", ""))


class _Patch:
    """A change of what the desk does not hold."""

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from ()

    def done(self, desk: Desk, setting: Setting) -> Desk:
        return desk


def _patch(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield _Patch()


def secret_of(address: str) -> str:
    """The secret part of a feed's address."""
    return address.rstrip("/").rpartition("/")[2].removesuffix(".ics")


def _made(acts: Acts, desk: Desk, event: Event) -> list[tuple[int, int]]:
    """The meeting and the booking of each row that it can have made."""
    if not changes(event):
        return [(NONE, NONE)]
    rows = acts.new_rows(event)
    return [(row.meeting, row.id) for row in rows if desk.booking(row.id) is None]


def _lesson(
    acts: Acts,
    event: Event,
    meeting: int,
    booking: int,
    instructor: int,
    starts_at: datetime,
    ends_at: datetime,
    held_until: datetime,
) -> Lesson:
    row = Meeting(meeting, instructor, starts_at, ends_at, held_until)
    return Lesson(row, acts.student(event), booking)


STEPS: Mapping[str, Step] = {
    "book-slot": _book_slot,
    "book-place": _book_place,
    "cancel": _cancel,
    "move": _move,
    "move-pair": move_pair,
    "wait": _wait,
    "leave-list": _leave_list,
    "accept": _accept,
    "decline": _decline,
    "lapse": _lapse,
    "places": _places,
    "weekly": _weekly,
    "days-away": _go_away,
    "dismiss": _go_away,
    "renew": _renew,
    "patch": _patch,
    "propose": proposals.propose,
    "take": proposals.take,
    "decline-times": proposals.decline,
    "withdraw-times": proposals.withdraw,
    "lapse-times": proposals.lapse,
    "decline-lesson": proposals.decline_lesson,
    "settle": books.settle,
    "extend": books.extend,
    "carry": books.carry,
    "register": books.mark,
    "issue": books.issue,
    "correct": books.correct,
    "say-yes": books.say_yes,
    "say-no": books.say_no,
}
