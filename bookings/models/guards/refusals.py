"""Translates a broken guard into the refusal of the rule that it guards."""

from collections.abc import Mapping

from django.db import IntegrityError

from bookings.domain.errors import Refused

# guard -> (code, sentence). The codes are those of the rules. A guard breaks only in a race.
REFUSALS: Mapping[str, tuple[str, str]] = {
    "meeting_instructor_free": ("taken", "That time has just been taken. Choose another."),
    "booking_student_free": (
        "own-clash",
        "The student has just been booked into another lesson or meeting at that time. "
        "Choose another time.",
    ),
    "meeting_places": ("no-place", "The last place has just been taken. Join the waiting list."),
    "meeting_listener_places": (
        "no-place",
        "The last listener place has just been taken. Join the waiting list.",
    ),
    "booking_once": ("already-booked", "The student already has a place in this meeting."),
    "waiting_once": ("already-waiting", "The student is already on this waiting list."),
    "audit_is_final": ("not-allowed", "The record of what was done is never changed."),
    "consent_text_version_once": (
        "invalid",
        "Another wording has that version: choose one that tells the two apart.",
    ),
    "guardianship_is_fixed": (
        "not-allowed",
        "A consent is one guardian’s for one student. Remove the guardian and invite another.",
    ),
    "user_admin_is_whole": (
        "conflict",
        "The admin role is given and taken as a whole: make the change again on the page People.",
    ),
    "teaching_hours_once": (
        "invalid",
        "Two windows on one day open at the same time. Join them into one.",
    ),
    "load_allowance_once": ("already-done", "That start is allowed already."),
    "term_name_once": (
        "invalid",
        "Another term has that name: choose one that tells the two apart.",
    ),
    "user_email_unique": (
        "already-done",
        "An account with that address has just been made: sign in with it, or open the link again.",
    ),
    "extra_hours_once": ("invalid", "Extra hours on that date already open at that time."),
}

# (table, columns) -> guard. SQLite names the columns of a broken UNIQUE and not the constraint.
_SQLITE_UNIQUES: Mapping[tuple[str, tuple[str, ...]], str] = {
    ("bookings_booking", ("meeting_id", "student_id", "place_kind")): "booking_once",
    ("bookings_waitingplace", ("meeting_id", "student_id", "place_kind")): "waiting_once",
    ("bookings_teachinghours", ("week_id", "weekday", "opens")): "teaching_hours_once",
    ("bookings_loadallowance", ("instructor_id", "starts_at")): "load_allowance_once",
    ("bookings_term", ("name",)): "term_name_once",
    ("bookings_consenttext", ("version",)): "consent_text_version_once",
    ("bookings_extrahours", ("instructor_id", "on", "opens")): "extra_hours_once",
}
_CHECK = "CHECK constraint failed: "
_UNIQUE = "UNIQUE constraint failed: "
_UNIQUE_INDEX = "UNIQUE constraint failed: index "  # an index on an expression has a name


def broken_guard(error: IntegrityError) -> str | None:
    """The name of the broken constraint or trigger; None where the error names none."""
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None and diagnosis.constraint_name:
        return str(diagnosis.constraint_name)
    text = str(error)
    if "guard " in text:
        return text.split("guard ", 1)[1].split()[0]
    if text.startswith(_CHECK):
        return text.removeprefix(_CHECK).strip()
    if text.startswith(_UNIQUE_INDEX):
        return text.removeprefix(_UNIQUE_INDEX).strip().strip("'")
    if text.startswith(_UNIQUE):
        return _guard_on_columns(text.removeprefix(_UNIQUE))
    return None


def _guard_on_columns(listed: str) -> str | None:
    """The guard on these columns, listed by SQLite as "table.first, table.second"."""
    table = listed.strip().partition(".")[0]
    columns = tuple(name.partition(".")[2].strip() for name in listed.split(","))
    return _SQLITE_UNIQUES.get((table, columns))


def as_refusal(error: IntegrityError) -> Refused | None:
    """The refusal of the rule behind a broken guard; None where the error is our own fault."""
    name = broken_guard(error)
    if name is None or name not in REFUSALS:
        return None
    code, sentence = REFUSALS[name]
    return Refused(code, sentence)
