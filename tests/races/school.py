"""The school that every race is played in: 20,000 stored meetings, each with its booking, and a
hundred students with accounts.

Built once for each database. A race takes instructors of its own and a day that no other race has
used, so that races do not stand in each other's way; when the days run out, the students are new.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any
from uuid import uuid4

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Model
from knox.models import AuthToken

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind
from bookings.models import Meeting, Offering
from tests import cast

STORED, TEACHERS, CLIENTS = 20_000, 40, 100
STORED_FROM = timedelta(days=-12)
FIRST_DAY, LAST_DAY = 10, 55  # days ahead: after what is stored, within the horizon


@dataclass(frozen=True, slots=True)
class Client:
    """Somebody with a token who acts for one student."""

    student: Student
    token: str


class School:
    """The rows that races start from; `random` is seeded and decides what each race fires."""

    def __init__(self, *, stored: int = STORED) -> None:
        self.now = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
        self.random = Random()
        # The rules of load and of open consultations are wide here: races are about what must hold
        # whatever the rules.
        self.policy = cast.make_policy(
            in_force_from=self.now - timedelta(days=400),
            open_consultations=10_000,
            run_minutes=900,
            day_minutes=900,
            week_minutes=6000,
        )
        self.consultation = cast.make_offering("Consultation", Kind.CONSULTATION, 25)
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)
        self.long_lesson = cast.make_offering(
            "Long consultation", Kind.CONSULTATION, 50, step_minutes=5
        )
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        self.admin = cast.make_admin()
        self.admin_token = token_of(self.admin)
        self.races_from = self.now + timedelta(days=FIRST_DAY - 1)
        self.taught_before = self.now + STORED_FROM
        self._past = iter(range(1, 10_000))
        self._days: Iterator[int] = iter(())
        self.clients: list[Client] = []
        with transaction.atomic():
            self._store(stored)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")  # what autovacuum does within minutes of so many rows

    def day(self) -> datetime:
        """Midnight UTC of a day ahead on which none of the clients has anything."""
        found = next(self._days, None)
        if found is None:
            self._days = iter(range(FIRST_DAY, LAST_DAY + 1))
            self.clients = self.newcomers(CLIENTS)
            return self.day()
        return self.now.replace(hour=0) + timedelta(days=found)

    def past_week(self) -> datetime:
        """Midnight UTC of the first of seven days that are over, before everything stored and
        every other race's.
        """
        return (self.taught_before - timedelta(weeks=next(self._past))).replace(hour=0)

    def newcomers(self, count: int) -> list[Client]:
        """Adult students with accounts of their own."""
        with transaction.atomic():  # one commit for all of them
            people = [cast.make_student(f"Student {i}") for i in range(count)]
            return [Client(person, token_of(person.user)) for person in people]

    def instructor(self, *offerings: Offering) -> Instructor:
        """Somebody new who teaches these every day from nine to nine, UTC."""
        person = cast.make_instructor("Ilse Quarrow", "UTC")
        cast.teaches(person, *(offerings or (self.consultation,)))
        cast.publish(person, cast.EVERY_DAY)
        return person

    def meeting(self, instructor: Instructor, starts_at: datetime, places: int) -> Meeting:
        """A group meeting with nobody in it yet."""
        return cast.make_meeting(
            self.group, instructor, starts_at, places=places, title="Ornaments"
        )

    def _store(self, count: int) -> None:
        """Lessons of forty other instructors, an hour apart, from twelve days ago until nine days
        ahead.
        """
        first = self.now + STORED_FROM
        pairs = [
            (cast.make_instructor(f"Teacher {i}", "UTC"), cast.make_student(f"Learner {i}"))
            for i in range(TEACHERS)
        ]
        meeting = cast.make_meeting(self.consultation, pairs[0][0], first)
        booking = cast.make_booking(meeting, pairs[0][1])
        lessons: list[dict[str, Any]] = []
        places: list[dict[str, Any]] = []
        for i in range(1, count):
            teacher, learner = pairs[i % TEACHERS]
            starts_at = first + timedelta(hours=i // TEACHERS)
            times = {"starts_at": starts_at, "ends_at": starts_at + timedelta(minutes=25)}
            held = {
                "held_until": starts_at + timedelta(minutes=30),
                "wall_on": starts_at.date(),
                "wall_at": starts_at.time(),
            }
            pk = meeting.pk + i
            lessons.append({"id": pk, "uid": uuid4(), "instructor_id": teacher.pk, **times, **held})
            places.append(
                {"id": booking.pk + i, "meeting_id": pk, "student_id": learner.pk, **times}
            )
        copy(meeting, lessons)
        copy(booking, places)


def copy(template: Model, rows: Sequence[dict[str, Any]]) -> None:
    """The template once more for each of these, which name the columns that differ.

    Plain SQL: the ORM takes ten times as long.
    """
    fields = {field.column: field for field in template._meta.concrete_fields}
    kept = {
        column: field.get_db_prep_save(getattr(template, field.attname), connection)
        for column, field in fields.items()
    }
    varied = list(rows[0])
    columns = [*varied, *(column for column in kept if column not in varied)]
    rest = [kept[column] for column in columns[len(varied) :]]
    names, marks = ", ".join(f'"{column}"' for column in columns), ", ".join(["%s"] * len(columns))
    ready = [
        [fields[column].get_db_prep_save(row[column], connection) for column in varied] + rest
        for row in rows
    ]
    with connection.cursor() as cursor:
        cursor.executemany(
            f'INSERT INTO "{template._meta.db_table}" ({names}) VALUES ({marks})', ready
        )
        for statement in connection.ops.sequence_reset_sql(no_style(), [type(template)]):
            cursor.execute(statement)


def token_of(user: User | None) -> str:
    """A token that this person signs in with."""
    token: str = AuthToken.objects.create(user=user)[1]
    return token
