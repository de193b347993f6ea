"""Translates a broken guard into the refusal of the rule that it guards."""

from collections.abc import Mapping

from django.db import IntegrityError

from bookings.domain.errors import Refused

FINAL_STATEMENT = "A statement that was issued is never changed. Write a correction instead."

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
    "make_up_once": (
        "owed-settled",
        "A make-up lesson has just been booked for this owed lesson. It stands in My lessons.",
    ),
    "owed_lesson_once": ("conflict", "What is owed for this lesson has just been written."),
    "waiting_once": ("already-waiting", "The student is already on this waiting list."),
    "waiting_next_once": ("already-done", "The next free place is held for a student already."),
    "audit_is_final": ("not-allowed", "The record of what was done is never changed."),
    "statement_is_final": ("not-allowed", FINAL_STATEMENT),
    "statement_line_is_final": ("not-allowed", FINAL_STATEMENT),
    "statement_correction_is_final": ("not-allowed", FINAL_STATEMENT),
    "statement_days_free": (
        "already-done",
        "Another statement has just been issued for some of these days. Choose other dates.",
    ),
    "statement_correction_once": (
        "stale",
        "The statement has just been corrected. Read it again, then decide.",
    ),
    "entry_is_final": (
        "not-allowed",
        "An entry in the register is never changed. Mark the register again to correct it.",
    ),
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
    "student_hours_once": (
        "invalid",
        "Two windows on one day open at the same time. Choose one word for each hour.",
    ),
    "privacy_request_once": ("already-done", "That has just been asked for already."),
    "cover_question_once": ("already-done", "The substitute has been asked already."),
    "load_allowance_once": ("already-done", "That start is allowed already."),
    "term_name_once": (
        "invalid",
        "Another term has that name: choose one that tells the two apart.",
    ),
    "offering_name_once": (
        "invalid",
        "Another offering has that name: choose one that tells the two apart.",
    ),
    "policy_version_once": (
        "stale",
        "Another version of the studio policy has just been added. Read it, then decide.",
    ),
    "teaches_once": ("conflict", "Who teaches this has just been changed. Read it again."),
    "user_email_unique": (
        "already-done",
        "An account with that address has just been made: sign in with it, or open the link again.",
    ),
    "extra_hours_once": ("invalid", "Extra hours on that date already open at that time."),
}

# (table, columns) -> guard. SQLite names the columns of a broken UNIQUE and not the constraint.
_SQLITE_UNIQUES: Mapping[tuple[str, tuple[str, ...]], str] = {
    ("bookings_booking", ("meeting_id", "student_id", "place_kind")): "booking_once",
    ("bookings_booking", ("makes_up_id",)): "make_up_once",
    ("bookings_owedlesson", ("booking_id",)): "owed_lesson_once",
    ("bookings_waitingplace", ("meeting_id", "student_id", "place_kind")): "waiting_once",
    ("bookings_waitingplace", ("meeting_id", "place_kind")): "waiting_next_once",
    ("bookings_teachinghours", ("week_id", "weekday", "opens")): "teaching_hours_once",
    ("bookings_studenthours", ("week_id", "weekday", "opens")): "student_hours_once",
    (
        "bookings_coverquestion",
        ("meeting_id", "instructor_id", "starts_at"),
    ): "cover_question_once",
    ("bookings_privacyrequest", ("student_id", "kind")): "privacy_request_once",
    ("bookings_loadallowance", ("instructor_id", "starts_at")): "load_allowance_once",
    ("bookings_term", ("name",)): "term_name_once",
    ("bookings_offering", ("name",)): "offering_name_once",
    ("bookings_studiopolicy", ("version",)): "policy_version_once",
    ("bookings_teaches", ("instructor_id", "offering_id")): "teaches_once",
    ("bookings_consenttext", ("version",)): "consent_text_version_once",
    ("bookings_statementcorrection", ("statement_id", "number")): "statement_correction_once",
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
