"""The last guard of every rule that races can break, and the translation of a broken guard into the rule's own refusal.

Two guards need more than Django's constraints: no instructor in two live meetings at once (changeover included) and no
student held in two at once. On PostgreSQL they are EXCLUDE constraints, on SQLite triggers that abort. A table rebuild on
SQLite drops triggers, so they are installed again after every migrate; a system check and /health/ready report a missing one.

What a new zone rule moves onto something else is kept and flagged, meeting and booking each for itself, and a flagged row
stands outside its guard: the one lets an instructor be in two meetings, the other a student. The rules look at no flag.
"""

from collections.abc import Mapping

from django.db import IntegrityError
from django.db.backends.base.base import BaseDatabaseWrapper

from bookings.domain.errors import Refused

_LIVE_MEETING = "{0}status <> 'CANCELLED' AND NOT {0}is_flagged"
_HELD_BOOKING = "{0}standing = 'HELD' AND NOT {0}is_flagged"

POSTGRES_CONSTRAINTS: Mapping[str, tuple[str, str]] = {
    "meeting_instructor_free": (
        "bookings_meeting",
        "EXCLUDE USING gist (instructor_id WITH =, tstzrange(starts_at, held_until) WITH &&) WHERE ("
        + _LIVE_MEETING.format("")
        + ")",
    ),
    "booking_student_free": (
        "bookings_booking",
        "EXCLUDE USING gist (student_id WITH =, meeting_id WITH <>, tstzrange(starts_at, ends_at) WITH &&) WHERE ("
        + _HELD_BOOKING.format("")
        + ")",
    ),
}

# Django stores SQLite datetimes as UTC text of one width per precision; all instants here are whole seconds, so text order is time order.
_OVERLAPS = "o.starts_at < NEW.{end} AND NEW.starts_at < o.{end}"
_SQLITE_MEETING = (
    "WHEN "  # noqa: S608  constants only
    + _LIVE_MEETING.format("NEW.")
    + " BEGIN SELECT RAISE(ABORT, 'guard meeting_instructor_free') WHERE EXISTS ("
    "SELECT 1 FROM bookings_meeting o WHERE o.instructor_id = NEW.instructor_id AND o.id <> NEW.id AND "
    + _LIVE_MEETING.format("o.")
    # A meeting lasts 8 hours at most (offering_minutes), so the index on (instructor, starts_at) bounds the search.
    + " AND o.starts_at > datetime(NEW.starts_at, '-2 days') AND "
    + _OVERLAPS.format(end="held_until")
    + "); END"
)
_SQLITE_BOOKING = (
    "WHEN "  # noqa: S608  constants only
    + _HELD_BOOKING.format("NEW.")
    + " BEGIN SELECT RAISE(ABORT, 'guard booking_student_free') WHERE EXISTS ("
    "SELECT 1 FROM bookings_booking o WHERE o.student_id = NEW.student_id AND o.id <> NEW.id AND o.meeting_id <> NEW.meeting_id"
    " AND "
    + _HELD_BOOKING.format("o.")
    + " AND o.starts_at > datetime(NEW.starts_at, '-2 days') AND "
    + _OVERLAPS.format(end="ends_at")
    + "); END"
)
# A consent is one person's for one child: it never becomes another's.
_MOVED_CONSENT = "NEW.guardian_id <> OLD.guardian_id OR NEW.student_id <> OLD.student_id"
_SQLITE_AUDIT = "BEGIN SELECT RAISE(ABORT, 'guard audit_is_final'); END"

SQLITE_TRIGGERS: Mapping[str, str] = {
    "meeting_instructor_free_insert": "AFTER INSERT ON bookings_meeting FOR EACH ROW "
    + _SQLITE_MEETING,
    "meeting_instructor_free_update": (
        "AFTER UPDATE OF instructor_id, starts_at, held_until, status, is_flagged ON bookings_meeting FOR EACH ROW "
        + _SQLITE_MEETING
    ),
    "booking_student_free_insert": "AFTER INSERT ON bookings_booking FOR EACH ROW "
    + _SQLITE_BOOKING,
    "booking_student_free_update": (
        "AFTER UPDATE OF student_id, meeting_id, starts_at, ends_at, standing, is_flagged ON bookings_booking FOR EACH ROW "
        + _SQLITE_BOOKING
    ),
    "audit_is_final_update": "BEFORE UPDATE ON bookings_auditrow FOR EACH ROW " + _SQLITE_AUDIT,
    "audit_is_final_delete": "BEFORE DELETE ON bookings_auditrow FOR EACH ROW " + _SQLITE_AUDIT,
    "guardianship_is_fixed": (
        "BEFORE UPDATE OF guardian_id, student_id ON accounts_guardianship FOR EACH ROW WHEN "
        + _MOVED_CONSENT
        + " BEGIN SELECT RAISE(ABORT, 'guard guardianship_is_fixed'); END"
    ),
}

_POSTGRES_AUDIT = """
CREATE OR REPLACE FUNCTION bookings_audit_is_final() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'guard audit_is_final' USING ERRCODE = 'integrity_constraint_violation'; END $$;
DROP TRIGGER IF EXISTS audit_is_final ON bookings_auditrow;
CREATE TRIGGER audit_is_final BEFORE UPDATE OR DELETE ON bookings_auditrow FOR EACH ROW EXECUTE FUNCTION bookings_audit_is_final();
"""
_POSTGRES_GUARDIANSHIP = f"""
CREATE OR REPLACE FUNCTION accounts_guardianship_is_fixed() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'guard guardianship_is_fixed' USING ERRCODE = 'integrity_constraint_violation'; END $$;
DROP TRIGGER IF EXISTS guardianship_is_fixed ON accounts_guardianship;
CREATE TRIGGER guardianship_is_fixed BEFORE UPDATE ON accounts_guardianship FOR EACH ROW
WHEN ({_MOVED_CONSENT}) EXECUTE FUNCTION accounts_guardianship_is_fixed();
"""
POSTGRES_TRIGGERS: Mapping[str, str] = {
    "audit_is_final": _POSTGRES_AUDIT,
    "guardianship_is_fixed": _POSTGRES_GUARDIANSHIP,
}


def install(connection: BaseDatabaseWrapper) -> None:
    """Puts every guard in place; safe to repeat."""
    gone = missing(connection)
    if not gone:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for name in gone:
                cursor.execute(f"CREATE TRIGGER {name} {SQLITE_TRIGGERS[name]}")
            return
        cursor.execute("CREATE EXTENSION IF NOT EXISTS btree_gist")
        for name in gone:
            if name in POSTGRES_CONSTRAINTS:
                table, rule = POSTGRES_CONSTRAINTS[name]
                cursor.execute(f"ALTER TABLE {table} ADD CONSTRAINT {name} {rule}")
            else:
                cursor.execute(POSTGRES_TRIGGERS[name])


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """The names of the guards that should be there and are not; none before the tables are there."""
    if "bookings_auditrow" not in connection.introspection.table_names():
        return []
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            wanted = list(SQLITE_TRIGGERS)
        else:
            cursor.execute(
                "SELECT conname FROM pg_constraint WHERE contype = 'x' UNION SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
            )
            wanted = [*POSTGRES_CONSTRAINTS, *POSTGRES_TRIGGERS]
        present = {row[0] for row in cursor.fetchall()}
    return [name for name in wanted if name not in present]


# guard -> (code, sentence). The same codes as the rules; a guard speaks only where two requests met.
REFUSALS: Mapping[str, tuple[str, str]] = {
    "meeting_instructor_free": ("taken", "That time has just been taken. Choose another."),
    "booking_student_free": (
        "own-clash",
        "The student has just been booked into another meeting at that time. Choose another time.",
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
        "An account with that address has just been made: sign in with it, or open the letter again.",
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
