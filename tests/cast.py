"""The people of the tests, all invented, and plain functions that make what a test needs."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any

from accounts.models import Guardianship, Instructor, Student, User
from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.domain.zone_rules import installed
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import (
    Assessment,
    Booking,
    KeptZoneRules,
    Meeting,
    Offering,
    StudioPolicy,
    Teaches,
    TeachingHours,
    TeachingWeek,
)

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
"""Monday 1 March 2027, 09:00 UTC: two weeks before the American clock change."""
PASSWORD = "upbeat-before-the-first-bar"

_number = count(1)


def at(text: str) -> datetime:
    """An aware instant from RFC 3339 text: at("2027-03-12T17:30Z")."""
    return datetime.fromisoformat(text)


def make_user(
    name: str = "Somebody",
    time_zone: str = "Europe/Dublin",
    *,
    password: str | None = None,
    **fields: Any,
) -> User:
    """A person; their address follows from their name.

    No password unless one is given: hashing one takes time.
    """
    local = name.lower().replace(" ", ".")
    email = fields.pop("email", f"{local}.{next(_number)}@rowanmere.example")
    return User.objects.create_user(
        email, password, name=name, time_zone=zone(time_zone), joined_at=NOW, **fields
    )


def make_admin(name: str = "Dag Emberley", time_zone: str = "Europe/Dublin", **fields: Any) -> User:
    """An admin."""
    return make_user(name, time_zone, is_staff=True, is_superuser=True, **fields)


def make_instructor(
    name: str = "Ilse Quarrow", time_zone: str = "Europe/Dublin", **fields: Any
) -> Instructor:
    """An instructor with a room of their own."""
    user = make_user(name, time_zone, **fields)
    return Instructor.objects.create(
        user=user, room=f"https://rooms.rowanmere.example/{name.split()[0].lower()}"
    )


def make_student(
    name: str = "Noor Ashgrove",
    time_zone: str = "America/New_York",
    *,
    level: int = 4,
    **fields: Any,
) -> Student:
    """An adult student with an account."""
    user = make_user(name, time_zone, **fields)
    return Student.objects.create(user=user, level=level, unit=2)


def user_of(student: Student) -> User:
    """The account of a student who has one."""
    if student.user is None:
        raise ValueError(f"{student} has no account")
    return student.user


def make_minor(
    name: str = "Posy Lindqvist-Reed",
    time_zone: str = "Australia/Sydney",
    *,
    guardian: User | None = None,
    consent: bool = True,
    level: int = 2,
    adult_on: date = date(2034, 6, 1),
    pk: int | None = None,
) -> Student:
    """A minor without an account, with one guardian, who has consented unless said otherwise."""
    guardian = guardian or make_user("Hedda Lindqvist-Reed", time_zone)
    student = Student.objects.create(
        pk=pk, own_name=name, level=level, unit=1, adult_on=adult_on, own_time_zone=zone(time_zone)
    )
    Guardianship.objects.create(
        guardian=guardian,
        student=student,
        consent_at=NOW if consent else None,
        consent_wording="2026-11" if consent else "",
    )
    return student


def give_account(student: Student) -> User:
    """An account of their own for somebody who had none, under the name the school had noted."""
    student.user = make_user(student.full_name, student.zone)
    student.own_name = ""
    student.save(update_fields=["user", "own_name"])
    return student.user


def make_policy(**fields: Any) -> StudioPolicy:
    """The first version of the studio policy, long in force."""
    return StudioPolicy.objects.create(
        **{"version": 1, "in_force_from": NOW - timedelta(days=400), **fields}
    )


def make_offering(
    name: str = "Consultation", kind: Kind = Kind.CONSULTATION, minutes: int = 25, **fields: Any
) -> Offering:
    """An offering nobody teaches yet."""
    return Offering.objects.create(name=name, kind=kind, minutes=minutes, **fields)


def teaches(
    instructor: Instructor, *offerings: Offering, lowest: int = 1, highest: int = 10
) -> None:
    """They teach these."""
    for offering in offerings:
        Teaches.objects.create(
            instructor=instructor, offering=offering, lowest_level=lowest, highest_level=highest
        )


def publish(instructor: Instructor, windows: str, time_zone: str | None = None) -> TeachingWeek:
    """Their week from words: publish(ilse, "0 15:30-20:30, 1 09:00-12:00"), weekday 0 is Monday."""
    week, _ = TeachingWeek.objects.update_or_create(
        instructor=instructor,
        defaults={
            "time_zone": zone(time_zone or instructor.user.zone),
            "version": 1,
            "changed_at": NOW,
        },
    )
    for part in windows.split(","):
        weekday, span = part.split()
        opens, closes = (int(clock[:2]) * 60 + int(clock[3:]) for clock in span.split("-"))
        TeachingHours.objects.create(week=week, weekday=int(weekday), opens=opens, closes=closes)
    return week


def keep_old_rules(version: str = "2025b", **hours: float) -> None:
    """Rules that other meetings were told by: the installed ones, but for zones that were so many
    hours ahead of what they are now.
    """
    rules = installed(NOW.year)
    offsets = {
        name: [(since, int(by + 3600 * hours.get(name, 0))) for since, by in kept]
        for name, kept in rules.offsets.items()
    }
    KeptZoneRules.objects.create(
        tzdata_version=version, year=rules.year, offsets=offsets, kept_at=NOW
    )


DAY_AND_NIGHT = ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7))
EVERY_DAY = ", ".join(f"{weekday} 09:00-21:00" for weekday in range(7))


def make_meeting(
    offering: Offering, instructor: Instructor, starts_at: datetime, **fields: Any
) -> Meeting:
    """A meeting written directly, past every rule; five minutes of changeover."""
    wall = starts_at.astimezone(zone(instructor.user.zone))
    ends_at = starts_at + timedelta(minutes=offering.minutes)
    values = {
        "wall_on": wall.date(),
        "wall_at": time(wall.hour, wall.minute),
        "fold": wall.fold,
        "time_zone": zone(instructor.user.zone),
        "minutes": offering.minutes,
        "starts_at": starts_at,
        "ends_at": ends_at,
        "held_until": ends_at + timedelta(minutes=5),
        "tzdata_version": TZDATA_VERSION,
        "made_at": NOW,
        "changed_at": NOW,
        "join_address": instructor.room,
        **fields,
    }
    return Meeting.objects.create(offering=offering, instructor=instructor, **values)


def make_booking(meeting: Meeting, student: Student, **fields: Any) -> Booking:
    """A held place written directly; it is counted."""
    policy = StudioPolicy.objects.order_by("-version").first() or make_policy()
    values = {
        "standing": Standing.HELD,
        "place_kind": PlaceKind.PLAYER,
        "booked_at": NOW,
        "booked_by": student.user,
        **fields,
    }
    counter = "listeners_taken" if values["place_kind"] == PlaceKind.LISTENER else "taken"
    setattr(meeting, counter, getattr(meeting, counter) + 1)
    meeting.save(update_fields=[counter])
    return Booking.objects.create(
        meeting=meeting,
        student=student,
        policy=policy,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        **values,
    )


def taught(
    instructor: Instructor,
    student: Student,
    offering: Offering,
    starts_at: datetime = NOW - timedelta(days=1),
) -> Booking:
    """A meeting of the two that has been held, yesterday unless said otherwise."""
    return make_booking(make_meeting(offering, instructor, starts_at), student)


def make_assessment(student: Student, author: Instructor, **fields: Any) -> Assessment:
    """A draft that names a next step and a goal, so that it can be released."""
    values = {
        "heard_on": NOW.date(),
        "level": student.level,
        "unit": student.unit,
        "next_steps": ["Close each finger into the palm before the next is placed."],
        "goal": "The study in G at 72 without looking down.",
        "written_at": NOW,
        **fields,
    }
    return Assessment.objects.create(student=student, author=author, **values)
