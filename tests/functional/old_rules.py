"""Lessons in 13 zones, booked by a process that knows tzdata 2025b: `python -m
tests.functional.old_rules`, on the test's database.

Prints what was booked as JSON. The seven zones whose rules changed in 2026 and Chisinau (STANDARDS:
tzdata 2025b to 2026f), and five controls whose rules did not.
"""

import json
from datetime import date, datetime
from typing import Any

import django

django.setup()

from accounts.models import Instructor, Student  # noqa: E402
from bookings.domain.vocabulary import Kind  # noqa: E402
from bookings.domain.zones import TZDATA_VERSION, place, zone  # noqa: E402
from bookings.door import write  # noqa: E402
from bookings.operations.booking import book_slot  # noqa: E402
from bookings.operations.terms import publish_term  # noqa: E402
from bookings.operations.weekly import take_weekly_place  # noqa: E402
from bookings.operations.zone_rules import keep_zone_rules  # noqa: E402
from tests import cast  # noqa: E402

NOW = "2026-10-05T09:00Z"
WALLS = {
    "America/Vancouver": "2026-12-01T10:00",
    "America/Edmonton": "2026-12-02T10:00",
    "America/Winnipeg": "2026-11-15T09:00",
    "America/Inuvik": "2026-12-03T10:00",
    "Africa/Casablanca": "2026-11-10T18:00",
    "Africa/El_Aaiun": "2026-11-11T18:00",
    "America/Havana": "2026-11-15T09:00",
    # inside the hour by which the two versions put the autumn change
    "Europe/Chisinau": "2026-10-25T03:30",
    "America/New_York": "2026-11-16T10:00",
    "Europe/London": "2026-11-16T10:00",
    "Australia/Sydney": "2026-11-17T10:00",
    "Asia/Kathmandu": "2026-11-18T10:00",
    "Australia/Lord_Howe": "2026-11-19T10:00",
}
AROUND_THE_CLOCK = ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7))
GAP = (
    "2027-03-28T03:30"  # Chisinau: the spring gap is 02:00-03:00 by 2025b and 03:00-04:00 by 2026f
)


def main() -> None:
    school = School()
    booked = {
        "version": TZDATA_VERSION,
        "lessons": {
            time_zone: school.book(time_zone, school.students[time_zone], wall)
            for time_zone, wall in WALLS.items()
        },
        # Lessons one after the other: each moves onto, or near, where another was.
        "chain": [
            school.book("America/Vancouver", school.students[time_zone], f"2026-12-08T{hour}")
            for time_zone, hour in zip(WALLS, ("09:00", "09:30", "10:00", "10:30"), strict=False)
        ],
        "instructor_clash": instructor_clash(school),
        "student_clash": student_clash(school),
        "gap": school.book("Europe/Chisinau", school.students["Europe/Chisinau"], GAP),
        "weekly_place": weekly_place(school),
        # A lesson on London's clock, which stays, for somebody in Vancouver, whose own clock
        # changes.
        "own_clock": school.book(
            "Europe/London",
            cast.make_student("Somebody Vancouver", "America/Vancouver"),
            "2026-11-18T17:00",
        ),
    }
    write(lambda: keep_zone_rules(now=school.now), now=school.now)
    print(json.dumps(booked))


class School:
    """An instructor in each zone of WALLS, and a student in London for each of them."""

    def __init__(self) -> None:
        self.now = cast.at(NOW)
        cast.make_policy(in_force_from=cast.at("2026-01-01T00:00Z"), horizon_days=300)
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)
        self.teachers = {time_zone: self._teacher(time_zone) for time_zone in WALLS}
        self.students = {
            time_zone: cast.make_student(f"Student {place(time_zone)}", "Europe/London")
            for time_zone in WALLS
        }

    def _teacher(self, time_zone: str) -> Instructor:
        found = cast.make_instructor(f"Teacher {place(time_zone)}", time_zone)
        cast.teaches(found, self.lesson)
        cast.publish(found, AROUND_THE_CLOCK)
        return found

    def book(self, time_zone: str, student: Student, wall: str) -> int:
        """The meeting's id. The student books with that zone's instructor, by the clock there."""
        asked = {
            "actor": student.user,
            "student": student,
            "offering": self.lesson,
            "instructor": self.teachers[time_zone],
            "starts_at": datetime.fromisoformat(wall).replace(tzinfo=zone(time_zone)),
        }
        booking: Any = write(lambda: book_slot(**asked, now=self.now), now=self.now)
        return int(booking.meeting_id)


def instructor_clash(school: School) -> list[int]:
    """A meeting on New York's clock, which stays at 18:00Z, and one on Vancouver's that comes from
    19:00Z and lands on it.

    The first was made while the instructor's hours were on another clock.
    """
    local = datetime(2026, 12, 10, 13)
    kept = cast.make_meeting(
        cast.make_offering("Harp circle", Kind.GROUP_MEETING, 25),
        school.teachers["America/Vancouver"],
        local.replace(tzinfo=zone("America/New_York")).astimezone(school.now.tzinfo),
        time_zone=zone("America/New_York"),
        wall_on=local.date(),
        wall_at=local.time(),
        places=6,
    )
    student = school.students["America/Edmonton"]
    return [kept.pk, school.book("America/Vancouver", student, "2026-12-10T11:00")]


def student_clash(school: School) -> list[int]:
    """One student, two instructors."""
    torn = school.students["America/Winnipeg"]
    return [
        school.book("Europe/London", torn, "2026-12-11T17:00"),
        school.book("America/Vancouver", torn, "2026-12-11T10:00"),
    ]


def weekly_place(school: School) -> int:
    """A weekly place at 15:00 on Vancouver's Thursdays, for somebody in Toronto."""
    dates = {"first_on": date(2026, 10, 12), "last_on": date(2026, 12, 4)}
    term = publish_term(
        actor=cast.make_admin(),
        name="Autumn",
        lessons_promised=8,
        breaks=[],
        now=school.now,
        **dates,
    )
    weekly = cast.make_student("Weekly Student", "America/Toronto")
    asked = {
        "actor": weekly.user,
        "student": weekly,
        "instructor": school.teachers["America/Vancouver"],
        "offering": school.lesson,
        "term": term,
        "weekday": 3,
        "wall_at": 15 * 60,
    }
    taken: Any = write(lambda: take_weekly_place(**asked, now=school.now), now=school.now)
    return int(taken.pk)


if __name__ == "__main__":
    main()
