"""Which state of the desk justifies each refusal, and each reading."""

from collections.abc import Collection, Mapping

from tests.races.acts import Acts
from tests.races.desk.lessons import TakeWeekly
from tests.races.desk.rows import Desk
from tests.races.events import Event
from tests.races.steps import acts_of, secret_of

_MOVES = ("move", "move-pair")
_SLOTS = ("book-slot", *_MOVES, "weekly")
_JOINS = ("book-place", "move", "wait")
_ENDS = ("cancel", "decline", "accept", "leave-list")
_ANSWERS = ("take", "decline-times", "withdraw-times")
_OWED = ("settle", "extend", "carry")

# The requests that may be answered with each code.
REFUSED: Mapping[str, Collection[str]] = {
    "taken": ("book-slot", *_MOVES, "propose"),
    "own-clash": ("book-slot", "book-place", *_MOVES, "accept", "take", "propose"),
    "other-level": _JOINS,
    "no-place": ("book-place", "move"),
    "already-booked": _JOINS,
    "already-waiting": ("wait",),
    "not-waiting": ("leave-list",),
    "places-free": ("wait",),
    "offer-ended": ("accept", "decline", "say-yes", "say-no", *_ANSWERS),
    "already-ended": (
        "cancel",
        *_JOINS,
        "move-pair",
        "places",
        "dismiss",
        "decline-lesson",
        "propose",
    ),
    "already-done": ("propose", "issue", "correct"),
    "limit-reached": ("propose",),
    "notice-passed": ("decline-lesson",),
    "has-bookings": ("places", "days-away", "dismiss"),
    "term-dates": ("weekly",),
    "outside-hours": ("book-slot", *_MOVES),
    "not-taught": ("book-slot", *_MOVES),
    "not-found": ("book-slot", *_MOVES),  # an instructor who has left is not there to be named
    "stale": (*_ENDS, *_ANSWERS, *_OWED, *_MOVES, "places", "patch", "renew"),
    "conflict": _SLOTS,
    "allowance-used": ("book-slot",),
    "owed-settled": ("book-slot", *_OWED),
    "register-open": ("issue", "correct"),
}
NEEDS_NO_REASON = ("busy", "too-many-requests")


def is_known(event: Event) -> bool:
    """Whether such a request is ever refused so."""
    code = event.body.get("code")
    return code in NEEDS_NO_REASON or event.operation in REFUSED.get(str(code), ())


def justified(acts: Acts, desk: Desk, event: Event) -> bool:
    """Whether this refusal, or this reading, is what the desk says."""
    if event.operation == "fetch":
        return _readable(desk, event) == (event.status in (200, 304))
    code = event.body.get("code")
    if not is_known(event) or code in NEEDS_NO_REASON:
        return is_known(event)
    if code in ("stale", "conflict"):
        return any(("changed", *thing) in desk.marks for thing in acts.things(event))
    if _perhaps(acts, desk, event):
        return True
    for act in acts_of(acts, desk, event):
        if isinstance(act, TakeWeekly):  # it names the dates that cannot be had, and no others
            return 0 < len(act.lessons) == len(act.unavailable(desk))
        if code in act.refusals(desk, acts.setting):
            return True
    return False


def _perhaps(acts: Acts, desk: Desk, event: Event) -> bool:
    """What an order, which has no clock and no earlier bookings, cannot decide: an offer's time to
    answer has passed though nobody has noticed yet; an allowance is used.
    """
    code = event.body.get("code")
    if code == "offer-ended" and event.returned is not None:
        due = acts.answer_by(event)
        return due is not None and acts.after.monotonic(due) <= event.returned
    if code == "allowance-used":
        student = acts.student(event)
        has = any(row.student == student and row.live for row in desk.bookings)
        return has or bool(acts.before.by_student.get(student))
    return False


def _readable(desk: Desk, event: Event) -> bool:
    """The address that was renewed last is the only one.

    Before that it is the one asked for: nobody knows a later one yet.
    """
    sent = event.arguments
    current = next(
        (mark[2] for mark in desk.marks if mark[:2] == ("feed", sent["feed"])),
        None,
    )
    return current is None or secret_of(sent["secret"]) == current


def own_meetings(acts: Acts, event: Event) -> set[int]:
    """The meetings of the bookings that it changes."""
    return {pk for kind, pk in acts.things(event) if kind == "meeting"}
