"""The translation of a broken guard into the refusal of the rule that it guards."""

from collections.abc import Mapping

from django.db import IntegrityError

from bookings.domain.errors import Refused

# guard -> (code, sentence). The same codes as the rules; a guard speaks only where two requests met.
REFUSALS: Mapping[str, tuple[str, str]] = {
    "meeting_instructor_free": ("taken", "That time has just been taken. Choose another."),
    "booking_student_free": (
        "own-clash",
        "The student has just been booked into another lesson or meeting at that time. Choose another time.",
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
        "An account with that address has just been made: sign in with it, or open the email again.",
    ),
    "extra_hours_once": ("invalid", "Extra hours on that date already open at that time."),
}

# SQLite names the columns of a broken UNIQUE, not the constraint; no two of these share them.
_SQLITE_UNIQUES: Mapping[str, str] = {
    "bookings_booking.meeting_id, bookings_booking.student_id, bookings_booking.place_kind": "booking_once",
    "bookings_waitingplace.meeting_id, bookings_waitingplace.student_id, bookings_waitingplace.place_kind": "waiting_once",
    "bookings_teachinghours.week_id, bookings_teachinghours.weekday, bookings_teachinghours.opens": "teaching_hours_once",
    "bookings_loadallowance.instructor_id, bookings_loadallowance.starts_at": "load_allowance_once",
    "bookings_term.name": "term_name_once",
    "bookings_consenttext.version": "consent_text_version_once",
    "bookings_extrahours.instructor_id, bookings_extrahours.on, bookings_extrahours.opens": "extra_hours_once",
}


def broken_guard(error: IntegrityError) -> str | None:
    """The name of the guard that raised `error`, None where it is not one of ours."""
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None and diagnosis.constraint_name:
        return str(diagnosis.constraint_name)
    text = str(error)
    if "guard " in text:
        return text.split("guard ", 1)[1].split()[0]
    if text.startswith("CHECK constraint failed: "):
        return text.removeprefix("CHECK constraint failed: ").strip()
    if text.startswith("UNIQUE constraint failed: index "):  # one on an expression is named
        return text.removeprefix("UNIQUE constraint failed: index ").strip().strip("'")
    if text.startswith("UNIQUE constraint failed: "):
        return _SQLITE_UNIQUES.get(text.removeprefix("UNIQUE constraint failed: ").strip())
    return None


def as_refusal(error: IntegrityError) -> Refused | None:
    """The refusal that a broken guard stands for, None for a fault of ours."""
    name = broken_guard(error)
    if name is None or name not in REFUSALS:
        return None
    code, sentence = REFUSALS[name]
    return Refused(code, sentence)
