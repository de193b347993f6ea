"""A school with some hundreds of people and meetings, written in a few statements."""

from datetime import date, timedelta
from itertools import cycle

from accounts.models import Guardianship, Student, User, Welcome
from bookings.domain.zones import zone
from bookings.models import (
    Assessment,
    BusyCalendar,
    BusyPeriod,
    Feed,
    Intake,
    Meeting,
    MoveRequest,
    OutboxMessage,
    WaitingPlace,
)
from tests.cast import NOW, make_booking, make_instructor, make_meeting, publish, teaches
from tests.functional.pages.school import School

_FIRST = ("Alder", "Bryn", "Cato", "Delphine", "Esme", "Fenn", "Greer", "Hollis", "Imre", "Juno")
_LAST = ("Ashdown", "Birkwood", "Carrow", "Dunmore", "Elverson", "Farrow", "Greaves", "Hartle")
_ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe")


def add_students(count: int) -> list[Student]:
    """So many students of every level, every third a minor with a guardian, each fifth of whom has
    not consented; half of the adults have an account."""
    clocks = cycle(_ZONES)
    accounts = User.objects.bulk_create(
        User(
            email=f"learner{number}@rowanmere.example",
            name=_name(number),
            password="!",
            time_zone=zone(next(clocks)),
        )
        for number in range(count)
    )
    students = Student.objects.bulk_create(
        Student(
            user=account if number % 3 and number % 2 else None,
            own_name="" if number % 3 and number % 2 else account.name,
            own_time_zone=account.time_zone,
            level=number % 10 + 1,
            unit=1,
            adult_on=None if number % 3 else date(2034, 6, 1),
        )
        for number, account in enumerate(accounts)
    )
    Guardianship.objects.bulk_create(
        Guardianship(
            guardian=accounts[number],
            student=student,
            consent_at=NOW if number % 5 else None,
            consent_wording="2026-11" if number % 5 else "",
        )
        for number, student in enumerate(students)
        if number % 3 == 0
    )
    return students


def _name(number: int) -> str:
    return f"{_FIRST[number % 10]} {_LAST[number // 10 % 8]}-{number}"


def fill(school: School, *, students: int = 300) -> None:
    """Adds students, instructors, meetings past and ahead, queues, requests, emails, calendars."""
    learners = add_students(students)
    for number in range(4):
        teacher = make_instructor(f"Sorrel Vane-{number}", _ZONES[number])
        teaches(teacher, school.consultation, school.group)
        publish(teacher, "0 09:00-17:00, 2 09:00-17:00, 4 09:00-17:00")
    for name in ("Kit Lindqvist-Reed", "Lark Lindqvist-Reed", "Pip Lindqvist-Reed"):
        child = Student.objects.create(
            own_name=name, level=3, adult_on=date(2033, 1, 1), own_time_zone=school.posy.zone
        )
        child.guardianships.create(guardian=school.hedda, consent_at=NOW, consent_wording="2026-11")
    _lessons(school, learners)
    _groups(school, learners)
    _around(school, learners)


def _lessons(school: School, learners: list[Student]) -> None:
    """Two hundred one-on-ones of Ilse's: half past, half ahead, each fourth with a request."""
    own = cycle([school.noor, school.posy, *learners[:20]])
    for number in range(200):
        start = NOW + timedelta(days=number // 4 - 25, hours=2 * (number % 4), minutes=number % 2)
        booking = make_booking(make_meeting(school.consultation, school.ilse, start), next(own))
        Intake.objects.create(booking=booking, questions=["Why does it fold?"], written_at=NOW)
        if start > NOW and number % 4 == 0:
            MoveRequest.objects.create(
                booking=booking,
                asked_by=school.dag,
                starts_at=start + timedelta(days=7),
                sequence=None,
                asked_at=NOW,
            )


def _groups(school: School, learners: list[Student]) -> None:
    """Sixty group meetings ahead, each with a full roster, offers and a queue."""
    for number in range(60):
        meeting = make_meeting(
            school.group,
            school.wren,
            NOW + timedelta(days=number + 1, minutes=30),
            title=f"Airs by ear, {number}",
            places=4,
            listener_places=4,
        )
        for student in learners[30 + number % 3 : 34 + number % 3]:
            make_booking(meeting, student)
        make_booking(meeting, learners[40], place_kind="listener")
        WaitingPlace.objects.bulk_create(
            WaitingPlace(meeting=meeting, student=student, joined_at=NOW)
            for student in [*learners[50:55], school.marlo]
        )
    Meeting.objects.filter(pk=school.circle.pk).update(places=60, listener_places=20)
    school.circle.refresh_from_db()
    for student in learners[100:140]:
        make_booking(school.circle, student)
    WaitingPlace.objects.bulk_create(
        WaitingPlace(meeting=school.circle, student=student, joined_at=NOW)
        for student in learners[140:170]
    )


def _around(school: School, learners: list[Student]) -> None:
    """What else a page may list: invitations, failed emails, feeds, busy calendars, notes."""
    Welcome.objects.bulk_create(
        Welcome(
            email=f"guest{number}@rowanmere.example",
            name=f"Guest {number}",
            guardian_of=student,
            secret_digest=f"guest-{number}",
            sent_at=NOW,
            good_until=NOW + timedelta(days=14),
        )
        for number, student in enumerate(learners[:80])
    )
    OutboxMessage.objects.bulk_create(
        OutboxMessage(
            recipient=school.hedda,
            kind="told",
            subject_key=f"gone:{number}",
            state_key="x",
            to_address="gone@rowanmere.example",
            title="x",
            message_id=f"gone-{number}",
            made_at=NOW,
            due_at=NOW - timedelta(hours=1),
            state="given-up",
            last_error="refused 550",
        )
        for number in range(60)
    )
    Assessment.objects.bulk_create(
        Assessment(
            student=school.noor,
            author=school.wren,
            state="released",
            released_at=NOW - timedelta(days=number + 2),
            heard_on=NOW.date(),
            written_at=NOW,
            level=4,
            unit=1,
        )
        for number in range(30)
    )
    for owner in (school.noor.user, school.ilse.user, school.hedda, school.dag):
        for number in range(3):
            Feed.objects.create(
                owner=owner,
                label=f"Phone {number}",
                secret_digest=f"{owner.pk}-{number}",
                revised_at=NOW,
                opened_at=NOW,
            )
    for whose in ({"owner": school.noor.user}, {"owner": school.ilse.user}):
        for number in range(2):
            calendar = BusyCalendar.objects.create(
                name=f"Choir {number}", host="c.example", added_at=NOW, **whose
            )
            BusyPeriod.objects.bulk_create(
                BusyPeriod(
                    calendar=calendar,
                    starts_at=NOW + timedelta(days=day),
                    ends_at=NOW + timedelta(days=day, hours=9),
                )
                for day in range(1, 30)
            )
    for day in range(1, 20):
        on = NOW.date() + timedelta(days=40 + day)
        school.ilse.days_away.create(first_on=on, last_on=on, time_zone="Europe/Dublin")
