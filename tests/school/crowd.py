"""A school of five thousand students and twenty thousand meetings, written in a few statements."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import count, cycle, islice

from django.db import connection, transaction

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Attendance, OwedCause
from bookings.domain.zones import zone
from bookings.models import (
    Assessment,
    Booking,
    Mark,
    Meeting,
    Offering,
    OwedLesson,
    StudioPolicy,
    Term,
    WeeklyPlace,
)
from tests.cast import NOW, make_instructor, publish, teaches
from tests.functional.pages.full_school import fill
from tests.functional.pages.school import School
from tests.school.crowd_meetings import bare_meeting
from tests.school.crowd_office import add_office

STUDENTS, MEETINGS, INSTRUCTORS = 5000, 20_000, 50
A_DAY, DAYS_BACK = 8, 30
_FIRST_FREE = 600  # those before are in the group meetings of the filled school
_ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe")
_BATCH = 2000


@transaction.atomic
def add_crowd(school: School) -> None:
    """Ilse is the regular instructor of a tenth of the students and has had a thousand meetings.

    Fifty instructors share the others: eight meetings a day each, from thirty days back on. All
    that is over is marked but the last two days. Each student has a note.
    """
    fill(school, students=STUDENTS)
    everybody = Student.objects.select_related("user").order_by("pk")
    learners = list(everybody)[_FIRST_FREE:-3]
    teachers = [_teacher(number, school) for number in range(INSTRUCTORS)]
    _share(learners, [school.ilse] * 5 + teachers)
    _lessons(school.consultation, learners, _starts(teachers))
    _lessons(school.consultation, learners, _earlier(school.ilse))
    _marks()
    _notes(learners, teachers)
    add_office(school, learners, teachers)
    analyze()


def analyze() -> None:
    """What a database in use has done by itself."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _teacher(number: int, school: School) -> Instructor:
    found = make_instructor(f"Linnet Marsh-{number}", _ZONES[number % len(_ZONES)])
    teaches(found, school.consultation, school.group)
    publish(found, "0 09:00-18:00, 1 09:00-18:00, 2 09:00-18:00, 3 09:00-18:00, 4 09:00-18:00")
    return found


def _share(learners: Sequence[Student], teachers: Sequence[Instructor]) -> None:
    for student, teacher in zip(learners, cycle(teachers)):
        student.regular_instructor = teacher
    Student.objects.bulk_update(learners, ["regular_instructor"], batch_size=_BATCH)


def _starts(teachers: Sequence[Instructor]) -> Iterator[tuple[Instructor, datetime]]:
    """Twenty thousand starts: at each of them all teachers teach, so no student is in two."""
    midnight = NOW.replace(hour=0) - timedelta(days=DAYS_BACK)
    hours = (
        midnight + timedelta(days=day, hours=8 + turn) for day in count() for turn in range(A_DAY)
    )
    return islice(((one, at) for at in hours for one in teachers), MEETINGS)


def _earlier(teacher: Instructor) -> Iterator[tuple[Instructor, datetime]]:
    """A thousand starts of one instructor, before all others."""
    midnight = NOW.replace(hour=0) - timedelta(days=DAYS_BACK + 300)
    return ((teacher, midnight + timedelta(days=n // 4, hours=10 + n % 4)) for n in range(1000))


def _lessons(
    offering: Offering,
    learners: Sequence[Student],
    starts: Iterator[tuple[Instructor, datetime]],
) -> None:
    policy, turn = StudioPolicy.objects.latest("version"), cycle(learners)
    while batch := list(islice(starts, _BATCH)):
        made = Meeting.objects.bulk_create(bare_meeting(offering, *one) for one in batch)
        Booking.objects.bulk_create(
            Booking(
                meeting=meeting,
                student=next(turn),
                policy=policy,
                standing="HELD",
                booked_at=NOW - timedelta(days=400),
                starts_at=meeting.starts_at,
                ends_at=meeting.ends_at,
            )
            for meeting in made
        )


def _marks() -> None:
    over = Booking.objects.held().filter(mark__isnull=True, ends_at__lt=NOW - timedelta(days=2))
    Mark.objects.bulk_create(
        (
            Mark(booking_id=pk, attendance=Attendance.PRESENT, marked_at=NOW - timedelta(days=1))
            for pk in over.values_list("pk", flat=True)
        ),
        batch_size=_BATCH,
    )


def _notes(learners: Sequence[Student], teachers: Sequence[Instructor]) -> None:
    """One note of each student, a third of them asking for a review by now."""
    heard = NOW - timedelta(days=50)
    Assessment.objects.bulk_create(
        (
            Assessment(
                student=student,
                author=teacher,
                state="released",
                released_at=heard,
                heard_on=heard.date(),
                written_at=heard,
                level=student.level,
                unit=1,
                obstacle="The thumb" if number % 3 else "",
                follow_up_weeks=None if number % 3 else 6,
                follow_up_on=None if number % 3 else (heard + timedelta(weeks=6)).date(),
            )
            for number, (student, teacher) in enumerate(zip(learners, cycle(teachers)))
        ),
        batch_size=_BATCH,
    )


@transaction.atomic
def add_books(school: School) -> None:
    """A thousand weekly places in the one term there is, and as many lessons owed."""
    term = Term.objects.get()
    lesson = Offering.objects.get(kind="private-lesson")
    policy = StudioPolicy.objects.latest("version")
    learners = list(Student.objects.order_by("-pk")[:1000])
    teachers = list(
        Instructor.objects.filter(user__name__startswith="Linnet").select_related("user")
    )
    for teacher in teachers:
        teaches(teacher, lesson)
    WeeklyPlace.objects.bulk_create(
        WeeklyPlace(
            term=term,
            student=student,
            instructor=teacher,
            offering=lesson,
            weekday=number % 5,
            wall_at=9 * 60 + 45 * (number // 250),
            promised=12,
            time_zone=zone(teacher.user.zone),
            policy=policy,
            made_at=NOW,
        )
        for number, (student, teacher) in enumerate(zip(learners, cycle(teachers)))
    )
    OwedLesson.objects.bulk_create(
        OwedLesson(
            student=student,
            term=term,
            offering=lesson,
            minutes=lesson.minutes,
            cause=OwedCause.CARRIED_IN,
            reason="Owed since autumn.",
            use_by=NOW.date() + timedelta(days=5),
            owed_at=NOW,
        )
        for student in learners
    )
    analyze()
