"""Statements of hours: what is written, and what is reckoned from meetings and registers now."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import IntegerField, OuterRef, Prefetch, Subquery, Value
from django.db.models.functions import Coalesce

from accounts.models import Instructor, InstructorQuerySet
from bookings.domain.statement_corrections import counter_lines, version_of
from bookings.domain.statement_rules import check_period
from bookings.domain.statements import (
    Line,
    MeetingFacts,
    MeetingOutcome,
    PlaceFacts,
    reckon,
    running_totals,
    total_of,
)
from bookings.domain.vocabulary import Attendance, Ended, Kind, Standing
from bookings.domain.zones import zone
from bookings.models import (
    Booking,
    Meeting,
    MeetingQuerySet,
    Statement,
    StatementCorrection,
    StatementLine,
    StatementQuerySet,
)
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class Reckoned:
    """Lines that could be written now, and a number that changes with them.

    `total` is what the whole statement would then count, in minutes.
    """

    lines: list[Line]
    totals: list[int]
    total: int
    version: int

    @property
    def has_open_register(self) -> bool:
        """Whether some meeting is not marked yet, so that nothing can be written."""
        return any(line.outcome is MeetingOutcome.REGISTER_OPEN for line in self.lines)

    @property
    def rows(self) -> list[tuple[Line, int]]:
        """Each line with its running total."""
        return list(zip(self.lines, self.totals, strict=True))


@dataclass(frozen=True, slots=True)
class StatementShown:
    """A statement with all that is written of it, and what differs now."""

    statement: Statement
    lines: list[StatementLine]
    corrections: list[StatementCorrection]
    found: Reckoned

    @property
    def differing(self) -> list[Line]:
        """The lines that a correction would add now."""
        return self.found.lines

    @property
    def total_minutes(self) -> int:
        """The minutes that count, by what is written."""
        return self.lines[-1].total_minutes if self.lines else 0

    @property
    def correction(self) -> int:
        """The number of the latest correction, 0 for none."""
        return len(self.corrections)


def meetings_between(instructor: Instructor, first_on: date, last_on: date) -> MeetingQuerySet:
    """The meetings that a statement of these dates is about; proposed times are not among them."""
    rows = Meeting.objects.not_proposed().taught_by(instructor)
    return rows.filter(wall_on__gte=first_on, wall_on__lte=last_on)


def reckoned(instructor: Instructor, first_on: date, last_on: date) -> list[Line]:
    """The lines of these dates as meetings and registers stand now: two queries."""
    rows = with_places_had(meetings_between(instructor, first_on, last_on))
    return reckon(facts_of(meeting) for meeting in rows)


def with_places_had(rows: MeetingQuerySet) -> MeetingQuerySet:
    """The same meetings, each with what `facts_of` reads: two queries."""
    places = Booking.objects.not_proposed().exclude(standing=Standing.OFFERED)
    had = Prefetch("bookings", places.select_related("mark"), to_attr="places_had")
    return rows.select_related("offering").prefetch_related(had)


def facts_of(meeting: Meeting) -> MeetingFacts:
    """A meeting of `with_places_had` as `domain.statements` reckons it."""
    return MeetingFacts(
        meeting_id=meeting.pk,
        starts_at=meeting.starts_at,
        wall_on=meeting.wall_on,
        time_zone=meeting.zone,
        kind=Kind(meeting.offering.kind),
        minutes=meeting.minutes,
        is_cancelled=meeting.is_cancelled,
        places=tuple(map(_place, meeting.places_had)),  # type: ignore[attr-defined]
    )


def _place(booking: Booking) -> PlaceFacts:
    return PlaceFacts(
        standing=Standing(booking.standing),
        ended_why=Ended(booking.ended_why) if booking.ended_why else None,
        attendance=Attendance(booking.mark.attendance) if hasattr(booking, "mark") else None,
    )


def preview(instructor: Instructor, first_on: date, last_on: date, *, now: datetime) -> Reckoned:
    """The statement as it could be issued now. Refused as `domain.statements.check_period`."""
    check_period(first_on, last_on, today_of(instructor, now))
    return _with_totals(reckoned(instructor, first_on, last_on), written=[])


def today_of(instructor: Instructor, now: datetime) -> date:
    """The date on the clock of the instructor's teaching hours."""
    return now.astimezone(zone(zone_of_hours(instructor))).date()


def differences(statement: Statement) -> Reckoned:
    """What a correction would write now: three queries; no lines where nothing differs."""
    return _differences(statement, lines_of(statement))


def _differences(statement: Statement, lines: list[StatementLine]) -> Reckoned:
    now_reckoned = reckoned(statement.instructor, statement.first_on, statement.last_on)
    return _with_totals(now_reckoned, written=[line.as_line for line in lines])


def statement_shown(statement: Statement) -> StatementShown:
    """A statement as it is shown: four queries."""
    lines = lines_of(statement)
    corrections = list(statement.corrections.order_by("number"))
    return StatementShown(statement, lines, corrections, _differences(statement, lines))


def _with_totals(now_reckoned: list[Line], *, written: list[Line]) -> Reckoned:
    lines = counter_lines(written, now_reckoned)
    before = total_of(written)
    return Reckoned(
        lines=lines,
        totals=running_totals(lines, before=before),
        total=before + total_of(lines),
        version=version_of(written, now_reckoned),
    )


def lines_of(statement: Statement) -> list[StatementLine]:
    """The written lines, in the order of writing: one query."""
    return list(StatementLine.objects.filter(statement=statement).order_by("position"))


def with_totals(rows: StatementQuerySet) -> StatementQuerySet:
    """The same statements with their instructor, minutes that count and number of corrections."""
    lines = StatementLine.objects.filter(statement=OuterRef("pk")).order_by("-position")
    made = StatementCorrection.objects.filter(statement=OuterRef("pk")).order_by("-number")
    nothing = Value(0, output_field=IntegerField())
    shown: dict[str, Any] = {
        "total_minutes": Coalesce(Subquery(lines.values("total_minutes")[:1]), nothing),
        "corrections_made": Coalesce(Subquery(made.values("number")[:1]), nothing),
    }
    return rows.select_related("instructor__user").annotate(**shown)


def listed(rows: StatementQuerySet, instructor_id: int | None = None) -> StatementQuerySet:
    """Statements as a list shows them, the latest first; of one instructor where one is named."""
    found = rows if instructor_id is None else rows.of(instructor_id)
    return with_totals(found).order_by("-first_on", "-pk")


def overlapping(instructor: Instructor, first_on: date, last_on: date) -> Statement | None:
    """A statement of this instructor that has one of these dates."""
    rows = Statement.objects.of(instructor).filter(first_on__lte=last_on, last_on__gte=first_on)
    return rows.order_by("first_on").first()


def all_instructors() -> InstructorQuerySet:
    """Everybody who teaches or taught here, by name."""
    return Instructor.objects.select_related("user", "week").order_by("user__name", "pk")
