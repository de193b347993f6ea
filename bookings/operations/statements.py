"""Statements of hours: issued by an admin, locked, and corrected by counter-lines only."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from accounts.models import Instructor, User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.statement_rules import check_lines, check_registers
from bookings.domain.statements import Line
from bookings.models import Statement, StatementCorrection, StatementLine
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors, lock_meetings
from bookings.queries.statements import (
    Reckoned,
    differences,
    lines_of,
    meetings_between,
    overlapping,
    preview,
)


def issue_statement(
    *,
    actor: User,
    instructor: Instructor,
    first_on: date,
    last_on: date,
    version: int | None = None,
    now: datetime,
) -> Statement:
    """Writes an instructor's statement of these dates, the last one included.

    `version` is that of the preview which was shown. Refused: as in `domain.statement_rules`;
    "already-done" where another statement has one of the dates; "stale".
    """
    require_admin(actor)
    locked = _lock(instructor, first_on, last_on)
    found = preview(locked, first_on, last_on, now=now)
    other = overlapping(locked, first_on, last_on)
    if other is not None:
        raise Refused(
            "already-done",
            f"The statement of {_day(other.first_on)} to {_day(other.last_on)} has some of these "
            "days. Choose other dates.",
            statement=other.pk,
        )
    _check_seen(found, version)
    check_lines(found.lines)
    check_registers(found.lines)
    statement = Statement.objects.create(
        instructor=locked, first_on=first_on, last_on=last_on, issued_at=now, issued_by=actor
    )
    _write(statement, found, first_position=1, correction=0)
    record(actor=actor, verb="issued", thing=statement, fields=["lines"], now=now)
    return statement


def correct_statement(
    *, actor: User, statement: Statement, version: int | None = None, now: datetime
) -> StatementCorrection:
    """Writes counter-lines and new lines, so that the statement says what is reckoned now.

    `version` is that of the differences which were shown. Refused: "already-done" where nothing
    differs, "register-open", "stale".
    """
    require_admin(actor)
    # The lock of the instructor orders this after every other act on the statement.
    statement.instructor = _lock(statement.instructor, statement.first_on, statement.last_on)
    found = differences(statement)
    _check_seen(found, version)
    if not found.lines:
        raise Refused("already-done", "Nothing differs from the statement.")
    check_registers(found.lines)
    made = statement.corrections.count()
    correction = StatementCorrection.objects.create(
        statement=statement, number=made + 1, made_at=now, made_by=actor
    )
    _write(
        statement,
        found,
        first_position=len(lines_of(statement)) + 1,
        correction=correction.number,
    )
    record(actor=actor, verb="corrected", thing=statement, fields=["lines"], now=now)
    return correction


def _day(on: date) -> str:
    return f"{on.day} {on:%B %Y}"


def _lock(instructor: Instructor, first_on: date, last_on: date) -> Instructor:
    """The instructor, locked, with the meetings of these dates.

    Meetings and places are read in two queries, which the locks make of one instant. A cover holds
    the instructor too, so that no meeting joins or leaves these dates after they are listed.
    """
    locked = lock_instructors([instructor.pk])[instructor.pk]
    ids: Sequence[int] = list(
        meetings_between(locked, first_on, last_on).order_by().values_list("pk", flat=True)
    )
    lock_meetings(ids)
    return locked


def _check_seen(found: Reckoned, version: int | None) -> None:
    if version is not None and version != found.version:
        raise Refused("stale", "The lines have changed since you read them. Read them again.")


def _write(statement: Statement, found: Reckoned, *, first_position: int, correction: int) -> None:
    pairs: Iterable[tuple[Line, int]] = found.rows
    StatementLine.objects.bulk_create(
        StatementLine(
            statement=statement,
            position=position,
            correction=correction,
            is_counter=line.is_counter,
            meeting_id=line.meeting_id,
            starts_at=line.starts_at,
            wall_on=line.wall_on,
            time_zone=line.time_zone,
            kind=line.kind.value,
            booked_minutes=line.booked_minutes,
            outcome=line.outcome.value,
            counted_minutes=line.counted_minutes,
            total_minutes=total,
        )
        for position, (line, total) in enumerate(pairs, first_position)
    )
