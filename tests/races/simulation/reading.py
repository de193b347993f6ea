"""The database read as the model writes, and a digest by which nothing can change unseen."""

from typing import Any

from django.db import connection

from accounts.models import Guardianship
from bookings.models import (
    Assessment,
    AuditRow,
    Booking,
    DaysAway,
    Feed,
    Intake,
    Mark,
    Meeting,
    OutboxMessage,
    OwedLesson,
    ProposedTimes,
    SentSequence,
    StatementLine,
    WaitingPlace,
    WeeklyPlace,
)  # fmt: skip
from tests.races.desk.rows import LISTENER, PLAYER
from tests.races.simulation.desk import KeptDesk
from tests.races.simulation.school import School

_SUMMED = {
    "audit": (AuditRow, "0"),
    "meetings": (Meeting, "version + sequence"),
    "bookings": (Booking, "version"),
    "waiting": (WaitingPlace, "CASE WHEN ended_why = '' THEN 1 ELSE 0 END"),
    "outbox": (OutboxMessage, "attempts + CASE WHEN state = 'due' THEN 1 ELSE 0 END"),
    "sequences": (SentSequence, "sequence"),
    "feeds": (Feed, "revision"),
    "assessments": (Assessment, "CASE WHEN state = 'released' THEN 1 ELSE 0 END"),
    "weekly": (WeeklyPlace, "version"),
    "proposals": (ProposedTimes, "version"),
    "days away": (DaysAway, "0"),
    "intakes": (Intake, "0"),
    "register": (Mark, "length(attendance)"),
    "owed": (OwedLesson, "version"),
    "statements": (StatementLine, "counted_minutes"),
    "consents": (
        Guardianship,
        "CASE WHEN consent_at IS NULL THEN 0 ELSE 1 END "
        "+ CASE WHEN barred_at IS NULL THEN 0 ELSE 2 END",
    ),
}
_DIGEST = "SELECT " + ", ".join(
    f"(SELECT count(*) || ':' || coalesce(sum({what}), 0) FROM {model._meta.db_table})"
    for model, what in _SUMMED.values()
)


def digest() -> dict[str, tuple[int, ...]]:
    """How many rows each table has and the sum of their versions, in one query."""
    with connection.cursor() as cursor:
        cursor.execute(_DIGEST)
        return {
            name: tuple(map(int, cell.split(":")))
            for name, cell in zip(_SUMMED, cursor.fetchone(), strict=True)
        }


def read(school: School, desk: KeptDesk) -> None:
    """Fails where a meeting, booking or waiting place reads otherwise than the model's."""
    students = {row.pk: i for i, row in enumerate(school.students)}
    numbers = _read_meetings(school, desk)
    offers = _read_bookings(desk, numbers, students)
    _read_waiting_places(desk, numbers, students, offers)
    _read_proposals(school, desk, students)


def _read_meetings(school: School, desk: KeptDesk) -> dict[int, int]:
    """The model's number of each meeting, by its id."""
    teachers = {row.pk: i for i, row in enumerate(school.teachers)}
    offerings = {row.pk: name for name, row in school.offerings.items()}
    rows: list[Any] = list(
        Meeting.objects.order_by("pk").values_list(
            "pk", "offering", "instructor", "starts_at", "ends_at", "held_until",
            "places", "listener_places", "taken", "listeners_taken", "status",
            "is_proposed",
        )
    )  # fmt: skip
    real = [
        (offerings[row[1]], teachers[row[2]], *row[3:10], row[10] == "CANCELLED", row[11])
        for row in rows
    ]
    _same("meeting", real, [
        (m.offering, m.instructor, m.starts_at, m.ends_at, m.held_until,
         m.places, m.listener_places, desk.rows.taken(m.id, PLAYER),
         desk.rows.taken(m.id, LISTENER), m.off, m.proposed)
        for m in desk.meetings
    ])  # fmt: skip
    return {row[0]: i for i, row in enumerate(rows)}


def _read_bookings(
    desk: KeptDesk, numbers: dict[int, int], students: dict[int, int]
) -> dict[int, int]:
    """The model's number of each booking that was offered, by the id of its waiting place."""
    rows: list[Any] = list(
        Booking.objects.order_by("pk").values_list(
            "pk", "meeting", "student", "place_kind", "standing",
            "starts_at", "ends_at", "answer_by", "ended_at", "ended_why", "decline_by",
            "waiting_place",
        )
    )  # fmt: skip
    real = [(numbers[row[1]], students[row[2]], *row[3:11]) for row in rows]
    _same("booking", real, [
        (b.meeting, b.student, b.kind, b.standing,
         b.starts_at, b.ends_at, b.answer_by, b.ended_at, b.why, b.decline_by)
        for b in desk.bookings
    ])  # fmt: skip
    return {row[11]: i for i, row in enumerate(rows) if row[11] is not None}


def _read_waiting_places(
    desk: KeptDesk, numbers: dict[int, int], students: dict[int, int], offers: dict[int, int]
) -> None:
    rows: list[Any] = list(
        WaitingPlace.objects.order_by("pk").values_list(
            "pk", "meeting", "student", "place_kind", "joined_at", "ended_at", "ended_why"
        )
    )
    real = [(numbers[row[1]], students[row[2]], *row[3:], offers.get(row[0])) for row in rows]
    _same(
        "waiting place",
        real,
        [
            (w.meeting, w.student, w.kind, w.joined_at, w.ended_at, w.why, w.offer)
            for w in desk.waits
        ],
    )


def _read_proposals(school: School, desk: KeptDesk, students: dict[int, int]) -> None:
    teachers = {row.pk: i for i, row in enumerate(school.teachers)}
    ids = Booking.objects.order_by("pk").values_list("pk", flat=True)
    bookings = {pk: i for i, pk in enumerate(ids)}
    columns = "student", "instructor", "answer_by", "ended_at", "ended_why", "move_request__booking"
    rows: list[Any] = list(ProposedTimes.objects.order_by("pk").values_list(*columns))
    real = [(students[row[0]], teachers[row[1]], *row[2:5], bookings.get(row[5])) for row in rows]
    model = [
        (p.student, p.instructor, p.answer_by, p.ended_at, p.why, p.moves) for p in desk.proposals
    ]
    _same("proposal", real, model)


def _same(what: str, real: list[Any], model: list[Any]) -> None:
    for i, (found, wanted) in enumerate(zip(real, model, strict=False)):
        assert found == wanted, f"{what} {i} reads {found}, the model {wanted}"
    assert len(real) == len(model), f"{len(real)} rows of a {what}, the model has {len(model)}"
