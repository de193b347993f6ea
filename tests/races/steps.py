"""What each write does to the model of the desk."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from tests.races.acts import Acts, instant, succeeded
from tests.races.desk import HELD, OFFERED, PLAYER, Desk, Live, Place, Waits, all_or_none
from tests.races.events import Event
from tests.races.state import BookingRow

Step = Callable[[Acts, Desk, Event], Iterable[Desk | None]]


def apply(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk]:
    """The desks that this write may leave, its answer being what it was; none where the rules
    forbid it.
    """
    tag = event.arguments.get("if_match", "*")
    version = ("version", tag)
    if tag != "*" and version in desk.marks:
        return  # two changes of one version
    for found in STEPS[event.operation](acts, desk, event):
        if found is not None:
            marks = [("changed", *thing) for thing in acts.things(event)]
            yield found.marked(*marks, *([version] if tag != "*" else []))


def _book_slot(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    ((instructor, starts_at, ends_at, held_until),) = acts.wanted(event)
    if away(desk, instructor, starts_at, ends_at) or (
        succeeded(event) and instant(event.body["starts_at"]) != starts_at
    ):
        return
    for row in _unused(acts, desk, event):
        meeting = Live(row.meeting, instructor, starts_at, ends_at, held_until, True, 1, 0)
        place = Place(row.id, row.meeting, acts.student(event), PLAYER, HELD, starts_at, ends_at)
        yield _made(desk.with_slot(meeting, place), row)


def _weekly(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    rows = {row.starts_at: row for row in _unused(acts, desk, event)}
    slots = []
    for instructor, starts_at, ends_at, held_until in acts.wanted(event):
        row = rows.get(starts_at)
        if row is None:
            return
        meeting = Live(row.meeting, instructor, starts_at, ends_at, held_until, True, 1, 0)
        slots.append(
            (
                meeting,
                Place(row.id, row.meeting, acts.student(event), PLAYER, HELD, starts_at, ends_at),
            )
        )
    if slots and not any(
        away(desk, meeting.instructor, meeting.starts_at, meeting.ends_at) for meeting, _ in slots
    ):
        found = all_or_none(desk, slots)
        yield (
            None if found is None else found.marked(*(("row", place.booking) for _, place in slots))
        )


def _book_place(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    for _, starts_at, ends_at, _ in acts.wanted(event):
        for row in _unused(acts, desk, event):
            kind = event.arguments.get("as", PLAYER)
            place = Place(
                row.id,
                event.arguments["meeting"],
                acts.student(event),
                kind,
                HELD,
                starts_at,
                ends_at,
            )
            yield _made(acts.queues.taken_by(desk, place), row)


def _cancel(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    place = desk.place(event.arguments["booking"])
    if place is not None:
        yield _ended(acts, desk, place)


def _move(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    place = desk.place(event.arguments["booking"])
    if place is None or place.standing != HELD:
        return
    if "meeting" in event.arguments:
        target = acts.meeting(event.arguments["meeting"])
        for row in _unused(acts, desk, event):
            if target is not None and target.id != place.meeting:
                new = place._replace(
                    booking=row.id,
                    meeting=target.id,
                    starts_at=target.starts_at,
                    ends_at=target.ends_at,
                )
                yield _made(acts.queues.taken_by(acts.queues.given_back(desk, place), new), row)
        return
    meeting = desk.meeting(place.meeting)
    ((instructor, starts_at, ends_at, held_until),) = acts.wanted(event)
    if "instructor" not in event.arguments and meeting is not None:
        instructor = meeting.instructor
    if meeting is None or not meeting.one_on_one or away(desk, instructor, starts_at, ends_at):
        return
    moved = meeting._replace(
        instructor=instructor, starts_at=starts_at, ends_at=ends_at, held_until=held_until
    )
    yield desk.with_slot(moved, place._replace(starts_at=starts_at, ends_at=ends_at))


def _wait(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    sent = event.arguments
    kind, student = sent.get("as", PLAYER), acts.student(event)
    for row in acts.after.waiting.values():
        same = (row.meeting, row.student, row.place_kind) == (
            sent["meeting"],
            student,
            kind,
        ) and row.id not in acts.before.waiting
        if same and ("waits", row.id) not in desk.marks and row.id == event.body.get("id", row.id):
            found = acts.queues.joined(desk, Waits(row.order, row.meeting, student, kind, 0))
            yield None if found is None else found.marked(("waits", row.id))


def _leave_list(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    sent = event.arguments
    waits = desk.waits(sent["meeting"], acts.student(event), sent.get("as", PLAYER))
    if waits is None:
        return
    offer = desk.place(waits.offer)
    yield (
        desk._replace(queue=desk.queue - {waits})
        if offer is None
        else acts.queues.given_back(desk, offer)
    )


def _accept(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    place = desk.place(event.arguments["booking"])
    if place is not None and place.standing == OFFERED:
        yield acts.queues.accepted(desk, place)


def _decline(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    place = desk.place(event.arguments["booking"])
    if place is not None and place.standing == OFFERED:
        yield acts.queues.given_back(desk, place)


def _places(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    meeting = desk.meeting(event.arguments["meeting"])
    if meeting is None:
        return
    sent = event.arguments
    new = meeting._replace(
        places=sent.get("places", meeting.places),
        listener_places=sent.get("listener_places", meeting.listener_places),
    )
    kinds = ("player", "listener")
    if any(desk.taken(new.id, kind) > new.seats(kind) for kind in kinds):
        return
    desk = desk._replace(meetings=(desk.meetings - {meeting}) | {new})
    for kind in kinds:
        desk = acts.queues.passed_on(desk, new.id, kind)
    yield desk


def _go_away(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    """Where meetings stand on those days they are all called off, if that was asked, or else it is
    refused; nothing new is offered.
    """
    instructor, first, last = acts.days(event)
    inside = [
        row
        for row in desk.meetings
        if row.instructor == instructor and first <= row.starts_at < last
    ]
    if inside and not event.arguments.get("call_off"):
        return
    listed = event.body.get("called_off")
    if listed is not None and {row["id"] for row in listed} != {row.id for row in inside}:
        return
    for row in inside:
        desk = desk.without_meeting(row.id)
    yield desk.marked(("away", instructor, first, last))


def _renew(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    feed = event.arguments["feed"]
    kept = (
        mark for mark in desk.marks if not (isinstance(mark, tuple) and mark[:2] == ("feed", feed))
    )
    yield desk._replace(marks=frozenset(kept)).marked(
        ("feed", feed, secret_of(event.body.get("address", "")))
    )


def _patch(acts: Acts, desk: Desk, event: Event) -> Iterator[Desk | None]:
    yield desk


def secret_of(address: str) -> str:
    """The secret part of a feed's address."""
    return address.rstrip("/").rpartition("/")[2].removesuffix(".ics")


def _unused(acts: Acts, desk: Desk, event: Event) -> list[BookingRow]:
    return [row for row in acts.new_rows(event) if ("row", row.id) not in desk.marks]


def _made(desk: Desk | None, row: BookingRow) -> Desk | None:
    return None if desk is None else desk.marked(("row", row.id))


def _ended(acts: Acts, desk: Desk, place: Place) -> Desk:
    meeting = desk.meeting(place.meeting)
    if meeting is not None and meeting.one_on_one:
        return desk.without_meeting(meeting.id)
    return acts.queues.given_back(desk, place)


def away(desk: Desk, instructor: int, starts_at: object, ends_at: object) -> bool:
    """Whether they are away, or have left, at some time of that period."""
    return any(
        mark[0] == "away" and mark[1] == instructor and mark[2] < ends_at and starts_at < mark[3]
        for mark in desk.marks
    )


STEPS: Mapping[str, Step] = {
    "book-slot": _book_slot,
    "book-place": _book_place,
    "cancel": _cancel,
    "move": _move,
    "wait": _wait,
    "leave-list": _leave_list,
    "accept": _accept,
    "decline": _decline,
    "lapse": _decline,
    "places": _places,
    "weekly": _weekly,
    "days-away": _go_away,
    "dismiss": _go_away,
    "renew": _renew,
    "patch": _patch,
}
