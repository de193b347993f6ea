"""What other programs can be told of: each event, and the acts of the audit that are one."""

from collections.abc import Mapping
from enum import StrEnum


class Event(StrEnum):
    """What has happened, as "noun.past participle". The values are sent and stored."""

    BOOKING_MADE = "booking.made"
    BOOKING_MOVED = "booking.moved"
    BOOKING_COVERED = "booking.covered"
    BOOKING_CANCELLED = "booking.cancelled"
    BOOKING_OFFERED = "booking.offered"
    BOOKING_LAPSED = "booking.lapsed"
    MEETING_MADE = "meeting.made"
    MEETING_CHANGED = "meeting.changed"
    MEETING_CALLED_OFF = "meeting.called_off"
    MEETING_REINSTATED = "meeting.reinstated"
    MEETING_MARKED = "meeting.marked"
    WEEKLY_PLACE_TAKEN = "weekly_place.taken"
    WEEKLY_PLACE_LEFT = "weekly_place.left"
    WAITING_PLACE_TAKEN = "waiting_place.taken"
    WAITING_PLACE_LEFT = "waiting_place.left"
    MOVE_REQUEST_MADE = "move_request.made"
    MOVE_REQUEST_ANSWERED = "move_request.answered"
    OWED_LESSON_ADDED = "owed_lesson.added"
    OWED_LESSON_CHANGED = "owed_lesson.changed"
    OWED_LESSON_REMOVED = "owed_lesson.removed"
    STATEMENT_ISSUED = "statement.issued"
    STATEMENT_CORRECTED = "statement.corrected"
    STUDENT_ADDED = "student.added"
    STUDENT_CHANGED = "student.changed"
    STUDENT_LEFT = "student.left"
    STUDENT_RETURNED = "student.returned"
    STUDENT_ERASED = "student.erased"
    OFFERING_MADE = "offering.made"
    OFFERING_CHANGED = "offering.changed"
    TERM_PUBLISHED = "term.published"
    TERM_CHANGED = "term.changed"


TEST = "webhook.tested"
"""The type of a test delivery. Nobody chooses it, and every webhook can be sent one."""

GROUPS: Mapping[str, Mapping[Event, str]] = {
    "Bookings": {
        Event.BOOKING_MADE: "A place has been booked",
        Event.BOOKING_MOVED: "A lesson has been moved",
        Event.BOOKING_COVERED: "A substitute has taken a lesson",
        Event.BOOKING_CANCELLED: "A booking or an offer has been cancelled, declined or removed",
        Event.BOOKING_OFFERED: "A place has been offered to somebody on a waiting list",
        Event.BOOKING_LAPSED: "An offer has lapsed without an answer",
    },
    "Meetings": {
        Event.MEETING_MADE: "A group meeting has been made",
        Event.MEETING_CHANGED: "A meeting has been changed, or its time has",
        Event.MEETING_CALLED_OFF: "A meeting has been called off, with all its bookings",
        Event.MEETING_REINSTATED: "A meeting that was called off takes place after all",
        Event.MEETING_MARKED: "The register of a meeting has been marked",
    },
    "Weekly places": {
        Event.WEEKLY_PLACE_TAKEN: "A weekly place has been taken, with its lessons",
        Event.WEEKLY_PLACE_LEFT: "A weekly place has been given up, with its lessons",
    },
    "Waiting lists": {
        Event.WAITING_PLACE_TAKEN: "Somebody has joined a waiting list",
        Event.WAITING_PLACE_LEFT: "Somebody has left a waiting list",
    },
    "Requests to move": {
        Event.MOVE_REQUEST_MADE: "A family has asked to move a lesson",
        Event.MOVE_REQUEST_ANSWERED: "A request to move has been accepted or refused",
    },
    "Owed lessons": {
        Event.OWED_LESSON_ADDED: "A lesson is owed",
        Event.OWED_LESSON_CHANGED: (
            "An owed lesson has been extended, corrected, settled or carried"
        ),
        Event.OWED_LESSON_REMOVED: "A lesson is owed no more, and its record is gone",
    },
    "Statements of hours": {
        Event.STATEMENT_ISSUED: "A statement of hours has been issued",
        Event.STATEMENT_CORRECTED: "A statement of hours has been corrected",
    },
    "Students": {
        Event.STUDENT_ADDED: "A student has been added",
        Event.STUDENT_CHANGED: "A student’s record or level has been changed",
        Event.STUDENT_LEFT: "A student has left the school",
        Event.STUDENT_RETURNED: "A student has come back to the school",
        Event.STUDENT_ERASED: "A student’s data has been erased",
    },
    "Offerings and terms": {
        Event.OFFERING_MADE: "An offering has been added",
        Event.OFFERING_CHANGED: "An offering has been changed",
        Event.TERM_PUBLISHED: "A term has been published",
        Event.TERM_CHANGED: "A term has been changed",
    },
}
"""What each event means, by what the events are about."""

WORDS: Mapping[Event, str] = {
    event: said for about in GROUPS.values() for event, said in about.items()
}

_ACTS: Mapping[str, Mapping[str, Event]] = {
    "booking": {
        "booked": Event.BOOKING_MADE,
        "booked ahead of the queue": Event.BOOKING_MADE,
        "accepted": Event.BOOKING_MADE,
        "took a time": Event.BOOKING_MADE,
        "moved": Event.BOOKING_MOVED,
        "moved to a proposed time": Event.BOOKING_MOVED,
        "covered": Event.BOOKING_COVERED,
        "cancelled": Event.BOOKING_CANCELLED,
        "declined": Event.BOOKING_CANCELLED,
        "removed": Event.BOOKING_CANCELLED,
        "offered": Event.BOOKING_OFFERED,
        "offered ahead of the queue": Event.BOOKING_OFFERED,
        "lapsed": Event.BOOKING_LAPSED,
    },
    "meeting": {
        "made": Event.MEETING_MADE,
        "changed": Event.MEETING_CHANGED,
        "retimed": Event.MEETING_CHANGED,
        "set minimum": Event.MEETING_CHANGED,
        "decided to run": Event.MEETING_CHANGED,
        "called off": Event.MEETING_CALLED_OFF,
        "reinstated": Event.MEETING_REINSTATED,
        "marked": Event.MEETING_MARKED,
    },
    "weeklyplace": {
        "took weekly place": Event.WEEKLY_PLACE_TAKEN,
        "left weekly place": Event.WEEKLY_PLACE_LEFT,
    },
    "waitingplace": {
        "joined waiting list": Event.WAITING_PLACE_TAKEN,
        "left waiting list": Event.WAITING_PLACE_LEFT,
        "removed from waiting list": Event.WAITING_PLACE_LEFT,
    },
    "moverequest": {
        "asked to move": Event.MOVE_REQUEST_MADE,
        "accepted a move": Event.MOVE_REQUEST_ANSWERED,
        "refused a move": Event.MOVE_REQUEST_ANSWERED,
    },
    "owedlesson": {
        "owed": Event.OWED_LESSON_ADDED,
        "carried in": Event.OWED_LESSON_ADDED,
        "corrected": Event.OWED_LESSON_CHANGED,
        "extended": Event.OWED_LESSON_CHANGED,
        "lapsed": Event.OWED_LESSON_CHANGED,
        "by hand": Event.OWED_LESSON_CHANGED,
        "carried out": Event.OWED_LESSON_CHANGED,
        "owed no more": Event.OWED_LESSON_REMOVED,
    },
    "statement": {
        "issued": Event.STATEMENT_ISSUED,
        "corrected": Event.STATEMENT_CORRECTED,
    },
    "student": {
        "added": Event.STUDENT_ADDED,
        "changed": Event.STUDENT_CHANGED,
        "moved level": Event.STUDENT_CHANGED,
        "left school": Event.STUDENT_LEFT,
        "returned to school": Event.STUDENT_RETURNED,
        "erased": Event.STUDENT_ERASED,
    },
    "offering": {"made": Event.OFFERING_MADE, "changed": Event.OFFERING_CHANGED},
    "term": {"published": Event.TERM_PUBLISHED, "changed": Event.TERM_CHANGED},
}


def event_of(verb: str, thing: str) -> Event | None:
    """The event that an act of the audit is: its verb, and the lower-case name of the model of what
    it was done to. None for an act that nobody else is told of.
    """
    return _ACTS.get(thing, {}).get(verb)


def acts() -> list[tuple[str, str]]:
    """(verb, thing) of every act that is an event."""
    return [(verb, thing) for thing, verbs in _ACTS.items() for verb in verbs]
