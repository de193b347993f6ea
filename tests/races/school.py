"""The school that every race is played in: 20,000 stored meetings, each with its booking, and a hundred students with accounts.

Built once for each database. A race takes instructors of its own and a day that no other race has used, so that races
do not stand in each other's way; when the days run out, the students are new.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random

from django.db import connection, transaction
from knox.models import AuthToken

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind, Standing
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import Booking, Meeting, Offering
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
        # The rules of load and of open consultations are wide here: races are about what must hold whatever the rules.
        self.policy = cast.make_policy(
            in_force_from=self.now - timedelta(days=400),
            open_consultations=10_000,
            run_minutes=900,
            day_minutes=900,
            week_minutes=6000,
        )
        self.consultation = cast.make_offering("Consultation", Kind.CONSULTATION, 25)
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)
        self.long_lesson = cast.make_offering("Long consultation", Kind.CONSULTATION, 50, step_minutes=5)
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        self.admin = cast.make_admin()
        self.admin_token = token_of(self.admin)
        self.races_from = self.now + timedelta(days=FIRST_DAY - 1)
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
        return cast.make_meeting(self.group, instructor, starts_at, places=places, title="Ornaments")

    def _store(self, count: int) -> None:
        """Lessons of forty other instructors, an hour apart, from twelve days ago until nine days ahead."""
        teachers = [cast.make_instructor(f"Teacher {i}", "UTC") for i in range(TEACHERS)]
        learners = Student.objects.bulk_create(
            Student(first_name=f"Learner {i}", level=4, own_time_zone=zone("Europe/Dublin")) for i in range(TEACHERS)
        )
        first = self.now + STORED_FROM
        meetings = Meeting.objects.bulk_create(
            (self._stored(teachers[i % TEACHERS], first + timedelta(hours=i // TEACHERS)) for i in range(count)), batch_size=1000
        )
        Booking.objects.bulk_create(
            (
                Booking(
                    meeting=meeting,
                    student=learners[i % TEACHERS],
                    standing=Standing.HELD,
                    starts_at=meeting.starts_at,
                    ends_at=meeting.ends_at,
                    policy=self.policy,
                    booked_at=first,
                )
                for i, meeting in enumerate(meetings)
            ),
            batch_size=1000,
        )

    def _stored(self, teacher: Instructor, starts_at: datetime) -> Meeting:
        ends_at = starts_at + timedelta(minutes=25)
        return Meeting(
            offering=self.consultation,
            instructor=teacher,
            wall_on=starts_at.date(),
            wall_at=starts_at.time(),
            time_zone=zone("UTC"),
            minutes=25,
            starts_at=starts_at,
            ends_at=ends_at,
            held_until=ends_at + timedelta(minutes=5),
            tzdata_version=TZDATA_VERSION,
            made_at=starts_at,
            changed_at=starts_at,
            taken=1,
        )


def token_of(user: User | None) -> str:
    """A token that this person signs in with."""
    token: str = AuthToken.objects.create(user=user)[1]
    return token
