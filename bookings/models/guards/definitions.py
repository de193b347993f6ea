"""The guards beyond Django's own constraints, as SQL for each database.

PostgreSQL has EXCLUDE constraints and triggers, SQLite has triggers that abort. New zone rules may
move a meeting onto another; it is then kept and flagged. A flagged meeting may overlap another
meeting of its instructor, and a flagged booking another booking of its student.
"""

from dataclasses import dataclass
from hashlib import sha256


@dataclass(frozen=True, slots=True)
class Guard:
    """A named constraint or trigger on `table`, with the statements that create and drop it."""

    name: str
    table: str
    create: str
    drop: str
    kind: str = "TRIGGER"

    @property
    def digest(self) -> str:
        """The SHA-256 of the definition, which differs from that of an older one."""
        return sha256(self.create.encode()).hexdigest()


_FINAL = {
    "audit_is_final": "bookings_auditrow",
    "entry_is_final": "bookings_registerentry",
    "statement_is_final": "bookings_statement",
    "statement_correction_is_final": "bookings_statementcorrection",
    "statement_line_is_final": "bookings_statementline",
}
"""Rows that are added and never changed or deleted: guard -> table."""
_LIVE_MEETING = "{0}status <> 'CANCELLED' AND NOT {0}is_flagged"
_HELD_BOOKING = "{0}standing = 'HELD' AND NOT {0}is_flagged"
# A consent belongs to one guardian and one child, and never to others.
_MOVED_CONSENT = "NEW.guardian_id <> OLD.guardian_id OR NEW.student_id <> OLD.student_id"


def _exclusion(name: str, table: str, rule: str) -> Guard:
    return Guard(
        name=name,
        table=table,
        create=f"ALTER TABLE {table} ADD CONSTRAINT {name} EXCLUDE USING gist ({rule})",
        drop=f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {name}",
        kind="CONSTRAINT",
    )


def _postgresql_trigger(name: str, table: str, events: str, condition: str = "") -> Guard:
    """A row trigger that raises an error with the guard's name."""
    function = f"{table}_{name}"
    return Guard(
        name=name,
        table=table,
        create=(
            f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION 'guard {name}' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$; "
            f"CREATE TRIGGER {name} BEFORE {events} ON {table} "
            f"FOR EACH ROW {condition} EXECUTE FUNCTION {function}()"
        ),
        drop=f"DROP TRIGGER IF EXISTS {name} ON {table}",
    )


POSTGRESQL = (
    _exclusion(
        "meeting_instructor_free",
        "bookings_meeting",
        "instructor_id WITH =, tstzrange(starts_at, held_until) WITH &&) WHERE ("
        + _LIVE_MEETING.format(""),
    ),
    _exclusion(
        "booking_student_free",
        "bookings_booking",
        "student_id WITH =, meeting_id WITH <>, tstzrange(starts_at, ends_at) WITH &&) WHERE ("
        + _HELD_BOOKING.format(""),
    ),
    _exclusion(
        "statement_days_free",
        "bookings_statement",
        "instructor_id WITH =, daterange(first_on, last_on, '[]') WITH &&",
    ),
    *(_postgresql_trigger(name, table, "UPDATE OR DELETE") for name, table in _FINAL.items()),
    _postgresql_trigger(
        "guardianship_is_fixed", "accounts_guardianship", "UPDATE", f"WHEN ({_MOVED_CONSENT})"
    ),
)


def _sqlite_trigger(name: str, table: str, event: str, body: str) -> Guard:
    return Guard(
        name=name,
        table=table,
        create=f"CREATE TRIGGER {name} {event} ON {table} FOR EACH ROW {body}",
        drop=f"DROP TRIGGER IF EXISTS {name}",
    )


def _no_overlap(
    name: str, table: str, *, same: str, live: str, end: str, columns: str
) -> list[Guard]:
    """Triggers that abort where another live row of the `same` person overlaps [starts_at, `end`).

    SQLite holds an instant as UTC text of one width, so texts sort as times do. A meeting lasts
    eight hours at most (constraint offering_minutes), so a search of two days is wide enough.
    """
    body = (
        f"WHEN {live.format('NEW.')} "  # noqa: S608  constants only
        f"BEGIN SELECT RAISE(ABORT, 'guard {name}') WHERE EXISTS ("
        f"SELECT 1 FROM {table} o WHERE {same} AND o.id <> NEW.id AND {live.format('o.')} "
        "AND o.starts_at > datetime(NEW.starts_at, '-2 days') "
        f"AND o.starts_at < NEW.{end} AND NEW.starts_at < o.{end}); END"
    )
    return [
        _sqlite_trigger(f"{name}_insert", table, "AFTER INSERT", body),
        _sqlite_trigger(f"{name}_update", table, f"AFTER UPDATE OF {columns}", body),
    ]


_ABORT = "BEGIN SELECT RAISE(ABORT, 'guard {0}'); END"

SQLITE = (
    *_no_overlap(
        "meeting_instructor_free",
        "bookings_meeting",
        same="o.instructor_id = NEW.instructor_id",
        live=_LIVE_MEETING,
        end="held_until",
        columns="instructor_id, starts_at, held_until, status, is_flagged",
    ),
    *_no_overlap(
        "booking_student_free",
        "bookings_booking",
        same="o.student_id = NEW.student_id AND o.meeting_id <> NEW.meeting_id",
        live=_HELD_BOOKING,
        end="ends_at",
        columns="student_id, meeting_id, starts_at, ends_at, standing, is_flagged",
    ),
    *(
        _sqlite_trigger(f"{name}_{event.lower()}", table, f"BEFORE {event}", _ABORT.format(name))
        for name, table in _FINAL.items()
        for event in ("UPDATE", "DELETE")
    ),
    _sqlite_trigger(
        "statement_days_free_insert",
        "bookings_statement",
        "AFTER INSERT",
        "BEGIN SELECT RAISE(ABORT, 'guard statement_days_free') WHERE EXISTS ("
        "SELECT 1 FROM bookings_statement o WHERE o.instructor_id = NEW.instructor_id "
        "AND o.id <> NEW.id AND o.first_on <= NEW.last_on AND NEW.first_on <= o.last_on); END",
    ),
    _sqlite_trigger(
        "guardianship_is_fixed",
        "accounts_guardianship",
        "BEFORE UPDATE OF guardian_id, student_id",
        f"WHEN {_MOVED_CONSENT} " + _ABORT.format("guardianship_is_fixed"),
    ),
)
