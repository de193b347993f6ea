"""A generator of stored rows: a school of 50 instructors and 100,000 students, with as many
meetings as asked for.

Rows are written with plain SQL, thousands at a time. The guards against double booking are dropped
meanwhile and put back by `guards.install`; the rows are made so that none would have refused them.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import connection, transaction

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Meeting, Offering, StudioPolicy, guards
from tests import cast

INSTRUCTORS, STUDENTS, MINUTES = 50, 100_000, 25

NOW = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
"""When the bench began, on the hour: the endpoint reads the real clock; rows lie around it."""

TODAY = NOW.replace(hour=0)

EVERY_DAY = 24
"""Meetings that a full day takes, 35 minutes apart."""

_ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe")

_WINDOWS = ", ".join(
    f"{weekday} {window}" for weekday in range(5) for window in ("08:00-12:00", "14:00-21:00")
)

_BATCH = 10_000

_OF_A_MEETING = (
    "id",
    "uid",
    "instructor_id",
    "starts_at",
    "ends_at",
    "held_until",
    "wall_on",
    "wall_at",
)

_EVERY_MEETING = {
    "title": "",
    "status": "CONFIRMED",
    "fold": 0,
    "time_zone": "UTC",
    "minutes": MINUTES,
    "tzdata_version": TZDATA_VERSION,
    "is_flagged": False,
    "join_address": "https://rooms.rowanmere.example/a",
    "places": 1,
    "taken": 1,
    "listener_places": 0,
    "listeners_taken": 0,
    "sequence": 0,
    "version": 1,
    "called_off_why": "",
}

_OF_A_BOOKING = ("id", "meeting_id", "starts_at", "ends_at", "student_id")

_EVERY_BOOKING = {
    "place_kind": "player",
    "standing": "HELD",
    "partstat": "ACCEPTED",
    "ended_why": "",
    "version": 1,
}


def found_school() -> None:
    """A policy, an offering, 50 instructors with ten windows a week, 100,000 students' accounts."""
    cast.make_policy(in_force_from=NOW - timedelta(days=4000), open_consultations=1000)
    lesson = cast.make_offering("Consultation", Kind.CONSULTATION, MINUTES)
    for number in range(INSTRUCTORS):
        person = cast.make_instructor(f"Instructor {number}", _ZONES[number % len(_ZONES)])
        cast.teaches(person, lesson)
        cast.publish(person, _WINDOWS)
        person.extra_hours.create(
            on=(TODAY + timedelta(days=5)).date(), opens=600, closes=720, time_zone="Europe/Dublin"
        )
        person.days_away.create(
            first_on=(TODAY + timedelta(days=40)).date(),
            last_on=(TODAY + timedelta(days=41)).date(),
            time_zone="Europe/Dublin",
        )
    first = (User.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1
    fixed = {
        "is_superuser": False,
        "is_active": True,
        "is_staff": False,
        "time_zone": "Europe/Dublin",
        "joined_at": _text(NOW),
        "session_epoch": 0,
    }
    varied = ("id", "password", "email", "name")
    _insert(
        User,
        varied,
        ((first + n, "!", f"s{n}@rowanmere.example", f"Student {n}") for n in range(STUDENTS)),
        fixed,
    )
    fixed = {"own_name": "", "is_active": True, "unit": 1}
    _insert(
        Student,
        ("id", "user_id", "level"),
        ((1 + n, first + n, 1 + n % 10) for n in range(STUDENTS)),
        fixed,
    )


def add_meetings(count: int, *, first_day: int, per_day: int) -> None:
    """One-on-ones, each with its booking: `per_day` for every instructor from `first_day` days
    after today on, until there are `count`.

    Students take turns, so that none is in two at once.
    """
    first = (Meeting.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1
    people = list(Instructor.objects.order_by("pk").values_list("pk", flat=True)[:INSTRUCTORS])
    lesson, policy = (
        model.objects.values_list("pk", flat=True).get() for model in (Offering, StudioPolicy)
    )
    _without_guards()
    meetings = _meetings(count, first, people, TODAY + timedelta(days=first_day), per_day)
    now = _text(NOW)
    every_meeting = {**_EVERY_MEETING, "offering_id": lesson, "made_at": now, "changed_at": now}
    every_booking = {**_EVERY_BOOKING, "policy_id": policy, "booked_at": now}
    for batch in iter(lambda: list(islice(meetings, _BATCH)), []):
        _insert(Meeting, _OF_A_MEETING, (row[:8] for row in batch), every_meeting)
        bookings = ((row[0], row[0], row[3], row[4], row[8]) for row in batch)
        _insert(Booking, _OF_A_BOOKING, bookings, every_booking)
    _tidy()


def _meetings(
    count: int, first: int, people: list[int], day: datetime, per_day: int
) -> Iterator[tuple[Any, ...]]:
    made = 0
    while made < count:
        for turn in range(per_day):
            starts_at = day + timedelta(hours=8, minutes=35 * turn)
            ends_at = starts_at + timedelta(minutes=MINUTES)
            ends = _text(ends_at), _text(ends_at + timedelta(minutes=5))
            times = (_text(starts_at), *ends, f"{starts_at:%Y-%m-%d}", f"{starts_at:%H:%M:%S}")
            for person in people[: count - made]:
                pk = first + made
                uid = (
                    pk * 0x9E3779B97F4A7C15F39CC0605CEDC835 % (1 << 128)
                )  # scattered, as random ones are
                yield pk, f"{uid:032x}", person, *times, 1 + pk % STUDENTS
                made += 1
        day += timedelta(days=1)


def _insert(
    model: Any, varied: tuple[str, ...], rows: Iterable[tuple[Any, ...]], told: dict[str, Any]
) -> None:
    """Rows of `varied` with the same values `told` in each; columns of neither take the model's own
    defaults.
    """
    unset = [
        field
        for field in model._meta.concrete_fields
        if not field.null and field.column not in (*varied, *told)
    ]
    fixed = {field.column: field.get_default() for field in unset} | told
    columns = ", ".join(f'"{name}"' for name in (*varied, *fixed))
    values = ", ".join(["%s"] * len(varied) + [_literal(value) for value in fixed.values()])
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(
            f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES ({values})', rows
        )


def _literal(value: Any) -> str:
    return str(value) if isinstance(value, bool | int) else f"'{value}'"


def _text(instant: datetime) -> str:
    """As Django stores it: SQLite keeps UTC without an offset."""
    return f"{instant:%Y-%m-%d %H:%M:%S}" + ("" if connection.vendor == "sqlite" else "+00:00")


def _without_guards() -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA synchronous=OFF")  # for this connection only
            cursor.execute("PRAGMA cache_size=-500000")
        for guard in guards.guards_of(connection):
            cursor.execute(guard.drop)


def _tidy() -> None:
    guards.install(connection)
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(
            no_style(), [User, Student, Meeting, Booking]
        ):
            cursor.execute(statement)
        if connection.vendor == "postgresql":
            cursor.execute("ANALYZE")  # what autovacuum does within minutes of so many rows
    connection.close()
