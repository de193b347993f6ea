"""Loads Rowanmere Online Harp School, through the operations that a real school uses."""

from datetime import datetime, timedelta

from django.contrib.auth.hashers import make_password

from accounts.models import Guardianship, Instructor, Student, User
from bookings import door
from bookings.demo import lessons, notes, people
from bookings.demo.day import TEACHER, book_day, tick_practice
from bookings.demo.people import Adult, Child
from bookings.demo.weekly_hours import SAID, window_of
from bookings.domain.vocabulary import Attendance, PlaceKind
from bookings.domain.zones import zone
from bookings.models import Booking, Offering, StudioPolicy, Teaches
from bookings.operations.booking import book_slot
from bookings.operations.hours import publish_week
from bookings.operations.intakes import IntakeText
from bookings.operations.meetings import create_meeting
from bookings.operations.places import book_place
from bookings.operations.register import mark_register
from bookings.operations.terms import publish_term
from bookings.operations.waiting import join_waiting_list
from bookings.queries.slots import slots_for

BEFORE = timedelta(days=400)
"""How long the school has existed."""


def load(*, now: datetime) -> bool:
    """Loads the school around `now` in one transaction; False where it is loaded already."""
    if User.objects.filter(email=people.DAG.email).exists():
        return False
    door.write(lambda: _School(now).build(), now=now)
    return True


class _School:
    """The rows made so far, found by name."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self.users: dict[str, User] = {}
        self.instructors: dict[str, Instructor] = {}
        self.students: dict[str, Student] = {}
        self.offerings: dict[str, Offering] = {}
        # One hash for all: two dozen Argon2 hashes would take longer than everything else.
        self._password = make_password(people.PASSWORD)

    def build(self) -> None:
        self._rules()
        self._people()
        self._hours()
        self._term()
        self._taught()
        book_day(
            instructor=self.instructors[TEACHER.name],
            offering=self.offerings["Consultation"],
            students=self.students,
            actor_of=self._actor,
            now=self.now,
        )
        for group in lessons.GROUPS:
            self._group(group)
        for one_on_one in lessons.AHEAD:
            self._one_on_one(one_on_one, booked_at=self.now)
        for note in notes.NOTES:
            notes.write(
                note,
                author=self.instructors[note.author.name],
                admin=self.users[people.DAG.name],
                student=self.students[note.student.name],
                now=self.now,
            )
        tick_practice(students=self.students, actor_of=self._actor, now=self.now)
        for week in SAID:
            week.say(self._actor(week.student), self.students[week.student.name], self.now)

    def _rules(self) -> None:
        StudioPolicy.objects.create(version=1, in_force_from=self.now - BEFORE)
        for name, kind, minutes, grid, summary in lessons.OFFERINGS:
            self.offerings[name] = Offering.objects.create(
                name=name, kind=kind, minutes=minutes, grid=grid, summary=summary
            )

    def _term(self) -> None:
        """Seven weeks are gone and six to come, so that it crosses the clock changes of March."""
        monday = self.now.date() - timedelta(days=self.now.weekday())
        half_term = (monday - timedelta(weeks=2), monday - timedelta(weeks=1, days=1), "Half-term")
        publish_term(
            actor=self.users[people.DAG.name],
            name=f"Spring {monday.year}",
            first_on=monday - timedelta(weeks=7),
            last_on=monday + timedelta(weeks=5, days=4),
            lessons_promised=12,
            breaks=[half_term],
            now=self.now,
        )

    def _people(self) -> None:
        # Real people accept an invitation and choose their own password. Here nobody has to.
        self._user(people.DAG, is_staff=True, is_superuser=True)
        for teaching in people.INSTRUCTORS:
            room = f"https://rooms.rowanmere.example/{teaching.name.split()[0].lower()}"
            self.instructors[teaching.name] = Instructor.objects.create(
                user=self._user(teaching), room=room
            )
            for offering, lowest, highest in teaching.offerings:
                Teaches.objects.create(
                    instructor=self.instructors[teaching.name],
                    offering=self.offerings[offering],
                    lowest_level=lowest,
                    highest_level=highest,
                )
        for adult in people.STUDENTS:
            self._student(adult.name, user=self._user(adult), level=adult.level, unit=adult.unit)
        for child in people.CHILDREN:
            student = self._student(
                child.name,
                own_name=child.name,
                level=child.level,
                unit=child.unit,
                adult_on=child.adult_on,
                own_time_zone=zone(child.time_zone),
            )
            given = (
                {"consent_at": self.now - timedelta(days=90), "consent_wording": "2026-11"}
                if child.consent
                else {}
            )
            Guardianship.objects.create(
                guardian=self._user(child.guardian), student=student, **given
            )

    def _user(self, who: Adult, **roles: bool) -> User:
        if who.name not in self.users:
            self.users[who.name] = User.objects.create(
                email=who.email,
                name=who.name,
                time_zone=zone(who.time_zone),
                password=self._password,
                joined_at=self.now - BEFORE,
                **roles,
            )
        return self.users[who.name]

    def _student(self, name: str, **fields: object) -> Student:
        self.students[name] = Student.objects.create(**fields)
        return self.students[name]

    def _hours(self) -> None:
        for teaching in people.INSTRUCTORS:
            if teaching.hours:
                instructor = self.instructors[teaching.name]
                windows = [window_of(text) for text in teaching.hours]
                publish_week(
                    actor=instructor.user,
                    instructor=instructor,
                    time_zone=teaching.time_zone,
                    windows=windows,
                    now=self.now - BEFORE,
                )

    def _taught(self) -> None:
        booking = self._one_on_one(lessons.PAST, booked_at=self.now - timedelta(days=12))
        instructor = booking.meeting.instructor
        mark_register(
            actor=instructor.user,
            meeting=booking.meeting,
            marks={booking.pk: Attendance.PRESENT},
            now=booking.ends_at + timedelta(hours=1),
        )

    def _one_on_one(self, planned: lessons.OneOnOne, *, booked_at: datetime) -> Booking:
        student, offering = self.students[planned.student.name], self.offerings[planned.offering]
        instructor = self.instructors[planned.instructor.name]
        since, until = (self.now + timedelta(days=days) for days in planned.days)
        slots = slots_for(
            offering=offering,
            student=student,
            since=since,
            until=until,
            now=booked_at,
            instructor_id=instructor.pk,
        ).slots
        best = min(slots, key=lambda slot: (slot.burden, slot.starts_at))
        return book_slot(
            actor=self._actor(planned.student),
            student=student,
            offering=offering,
            instructor=instructor,
            starts_at=best.starts_at,
            intake=IntakeText(
                questions=planned.questions, pieces=planned.pieces, obstacle=planned.obstacle
            ),
            now=booked_at,
        )

    def _group(self, group: lessons.PlannedGroup) -> None:
        instructor = self.instructors[group.instructor.name]
        here = zone(group.instructor.time_zone)
        today = self.now.astimezone(here).date()
        on = today + timedelta(weeks=group.weeks, days=group.weekday - today.weekday())
        meeting = create_meeting(
            actor=instructor.user,
            offering=self.offerings[group.offering],
            instructor=instructor,
            starts_at=datetime.combine(on, group.at, here).astimezone(zone("UTC")),
            title=group.title,
            places=group.places,
            listener_places=group.listener_places,
            now=self.now,
        )
        for kind, members in (
            (PlaceKind.PLAYER, group.players),
            (PlaceKind.LISTENER, group.listeners),
        ):
            for member in members:
                actor, student = self._actor(member), self.students[member.name]
                book_place(
                    actor=actor, student=student, meeting=meeting, place_kind=kind, now=self.now
                )
        for place, member in enumerate(group.waiting):
            join_waiting_list(
                actor=self._actor(member),
                student=self.students[member.name],
                meeting=meeting,
                place_kind=PlaceKind.PLAYER,
                now=self.now + timedelta(seconds=place),
            )

    def _actor(self, member: Adult | Child) -> User:
        return self.users[member.guardian.name if isinstance(member, Child) else member.name]
