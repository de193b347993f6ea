"""Which state of the desk justifies each refusal, and each reading."""

from collections.abc import Callable, Collection, Mapping

from tests.races.acts import Acts
from tests.races.desk import OFFERED, PLAYER, Desk
from tests.races.events import Event
from tests.races.steps import away, secret_of

Reason = Callable[[Acts, Desk, Event], bool]


def justified(acts: Acts, desk: Desk, event: Event) -> bool:
    """Whether this refusal, or this reading, is what the desk says."""
    if event.operation == "fetch":
        return _readable(desk, event) == (event.status in (200, 304))
    reason = reason_for(event)
    return reason is not None and reason(acts, desk, event)


def _readable(desk: Desk, event: Event) -> bool:
    """The address that was renewed last is the only one.

    Before that it is the one asked for: nobody knows a later one yet.
    """
    sent = event.arguments
    current = next(
        (
            mark[2]
            for mark in desk.marks
            if isinstance(mark, tuple) and mark[:2] == ("feed", sent["feed"])
        ),
        None,
    )
    return current is None or secret_of(sent["secret"]) == current


def own_meeting(acts: Acts, event: Event) -> int:
    """The meeting of the booking that it changes, 0 where there is none."""
    row = acts.booking(event.arguments["booking"]) if "booking" in event.arguments else None
    return 0 if row is None else row.meeting


def _taken(acts: Acts, desk: Desk, event: Event) -> bool:
    own = own_meeting(acts, event)
    meeting = desk.meeting(own)
    stays = (
        "booking" in event.arguments and "instructor" not in event.arguments and meeting is not None
    )
    return any(
        desk.blocked(
            meeting.instructor if stays and meeting else instructor, starts_at, held_until, but=own
        )
        for instructor, starts_at, _, held_until in acts.wanted(event)
    )


def _own_clash(acts: Acts, desk: Desk, event: Event) -> bool:
    own = own_meeting(acts, event) or event.arguments.get("meeting", 0)
    student = acts.student(event)
    return any(
        desk.clashes(student, starts_at, ends_at, but=own)
        for _, starts_at, ends_at, _ in acts.wanted(event)
    )


def _no_place(acts: Acts, desk: Desk, event: Event) -> bool:
    kind = kind_of(acts, event)
    meeting = desk.meeting(event.arguments.get("meeting", 0))
    return meeting is not None and not acts.queues.free_for_all(desk, meeting, kind)


def kind_of(acts: Acts, event: Event) -> str:
    """The kind of place it is about."""
    row = acts.booking(event.arguments["booking"]) if "booking" in event.arguments else None
    return str(event.arguments.get("as", PLAYER)) if row is None else row.place_kind


def _already_booked(acts: Acts, desk: Desk, event: Event) -> bool:
    return desk.booked(event.arguments.get("meeting", 0), acts.student(event), kind_of(acts, event))


def _already_waiting(acts: Acts, desk: Desk, event: Event) -> bool:
    return (
        desk.waits(event.arguments["meeting"], acts.student(event), kind_of(acts, event))
        is not None
    )


def _not_waiting(acts: Acts, desk: Desk, event: Event) -> bool:
    return not _already_waiting(acts, desk, event)


def _places_free(acts: Acts, desk: Desk, event: Event) -> bool:
    meeting = desk.meeting(event.arguments["meeting"])
    return meeting is not None and acts.queues.free_for_all(desk, meeting, kind_of(acts, event))


def _offer_ended(acts: Acts, desk: Desk, event: Event) -> bool:
    """Answered or lapsed, or its time to answer has passed though nobody has noticed yet."""
    pk = event.arguments["booking"]
    place = desk.place(pk)
    if place is None or place.standing != OFFERED:
        return True
    row = acts.booking(pk)
    due = row.answer_by if row is not None else None
    return (
        due is not None
        and event.returned is not None
        and acts.after.monotonic(due) <= event.returned
    )


def _already_ended(acts: Acts, desk: Desk, event: Event) -> bool:
    sent = event.arguments
    if event.operation == "dismiss":
        return ("away", *acts.days(event)) in desk.marks
    if "booking" in sent:
        place = desk.place(sent["booking"])
        return place is None or (event.operation == "move" and place.standing == OFFERED)
    return desk.meeting(sent["meeting"]) is None


def _has_bookings(acts: Acts, desk: Desk, event: Event) -> bool:
    sent = event.arguments
    if event.operation == "places":
        return any(
            name in sent and sent[name] < desk.taken(sent["meeting"], kind)
            for name, kind in (("places", "player"), ("listener_places", "listener"))
        )
    instructor, first, last = acts.days(event)
    return any(
        row.instructor == instructor and first <= row.starts_at < last for row in desk.meetings
    )


def _term_dates(acts: Acts, desk: Desk, event: Event) -> bool:
    """Every date it names is one that cannot be had."""
    student, wanted = acts.student(event), acts.wanted(event)
    return bool(wanted) and all(
        desk.blocked(instructor, starts_at, held_until)
        or desk.clashes(student, starts_at, ends_at)
        or away(desk, instructor, starts_at, ends_at)
        for instructor, starts_at, ends_at, held_until in wanted
    )


def _outside_hours(acts: Acts, desk: Desk, event: Event) -> bool:
    return any(
        away(desk, instructor, starts_at, ends_at)
        for instructor, starts_at, ends_at, _ in acts.wanted(event)
    )


def _changed(acts: Acts, desk: Desk, event: Event) -> bool:
    return any(("changed", *thing) in desk.marks for thing in acts.things(event))


def _allowance_used(acts: Acts, desk: Desk, event: Event) -> bool:
    student = acts.student(event)
    return any(row.student == student for row in desk.places) or bool(
        acts.before.by_student.get(student)
    )


def _always(acts: Acts, desk: Desk, event: Event) -> bool:
    return True


_SLOTS = ("book-slot", "move", "weekly")
_JOINS = ("book-place", "move", "wait")
_ENDS = ("cancel", "decline", "accept", "leave-list")

# What justifies a code, and the requests that may be answered with it.
REASONS: Mapping[str, tuple[Reason, Collection[str]]] = {
    "taken": (_taken, _SLOTS),
    "own-clash": (_own_clash, (*_SLOTS, "book-place", "accept")),
    "no-place": (_no_place, ("book-place", "move")),
    "already-booked": (_already_booked, _JOINS),
    "already-waiting": (_already_waiting, ("wait",)),
    "not-waiting": (_not_waiting, ("leave-list",)),
    "places-free": (_places_free, ("wait",)),
    "offer-ended": (_offer_ended, ("accept", "decline")),
    "already-ended": (_already_ended, ("cancel", *_JOINS, "places", "dismiss")),
    "has-bookings": (_has_bookings, ("places", "days-away", "dismiss")),
    "term-dates": (_term_dates, ("weekly",)),
    "outside-hours": (_outside_hours, _SLOTS),
    "not-taught": (_outside_hours, _SLOTS),
    "not-found": (_outside_hours, _SLOTS),  # an instructor who has left is not there to be named
    "stale": (_changed, (*_ENDS, "move", "places", "patch", "renew")),
    "conflict": (_changed, _SLOTS),
    "allowance-used": (_allowance_used, ("book-slot",)),
}
NEEDS_NO_REASON = ("busy", "too-many-requests")


def reason_for(event: Event) -> Reason | None:
    """What would justify this refusal; None where such a request is never refused so."""
    code = str(event.body.get("code"))
    if code in NEEDS_NO_REASON:
        return _always
    reason, operations = REASONS.get(code, (None, ()))
    return reason if event.operation in operations else None
