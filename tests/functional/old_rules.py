"""Lessons in 13 zones, booked by a process that knows tzdata 2025b: `python -m
tests.functional.old_rules`, on the test's database.

Prints what was booked as JSON. The seven zones whose rules changed in 2026 and Chisinau (STANDARDS:
tzdata 2025b to 2026f), and five controls whose rules did not.
"""

import json
from datetime import date, datetime
from typing import Any

import django

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
    django.setup()
    from bookings.domain.vocabulary import Kind
    from bookings.domain.zones import TZDATA_VERSION, place, zone
    from bookings.door import write
    from bookings.operations.booking import book_slot
    from bookings.operations.terms import publish_term
    from bookings.operations.weekly import take_weekly_place
    from bookings.operations.zone_rules import keep_zone_rules
    from tests import cast

    now = cast.at(NOW)
    cast.make_policy(in_force_from=cast.at("2026-01-01T00:00Z"), horizon_days=300)
    lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)

    def instructor(name: str, time_zone: str) -> Any:
        found = cast.make_instructor(name, time_zone)
        cast.teaches(found, lesson)
        cast.publish(found, AROUND_THE_CLOCK)
        return found

    def book(teacher: Any, student: Any, wall: str, time_zone: str) -> int:
        starts_at = datetime.fromisoformat(wall).replace(tzinfo=zone(time_zone))
        asked = {
            "actor": student.user,
            "student": student,
            "offering": lesson,
            "instructor": teacher,
        }
        booking: Any = write(lambda: book_slot(**asked, starts_at=starts_at, now=now), now=now)
        return int(booking.meeting_id)

    teachers = {
        time_zone: instructor(f"Teacher {place(time_zone)}", time_zone) for time_zone in WALLS
    }
    students = {
        time_zone: cast.make_student(f"Student {place(time_zone)}", "Europe/London")
        for time_zone in WALLS
    }
    booked: dict[str, Any] = {
        "version": TZDATA_VERSION,
        "lessons": {
            time_zone: book(teachers[time_zone], students[time_zone], wall, time_zone)
            for time_zone, wall in WALLS.items()
        },
    }
    vancouver = teachers["America/Vancouver"]
    # Lessons one after the other: each moves onto, or near, where another was.
    booked["chain"] = [
        book(vancouver, students[time_zone], f"2026-12-08T{hour}", "America/Vancouver")
        for time_zone, hour in zip(WALLS, ("09:00", "09:30", "10:00", "10:30"), strict=False)
    ]
    # Their meeting on New York's clock stays at 18:00Z; the one on Vancouver's comes from 19:00Z
    # and lands on it.
    kept = write(
        lambda: _group(cast, vancouver, "America/New_York", "2026-12-10T13:00", now),
        now=now,
    )
    booked["instructor_clash"] = [
        kept.pk,
        book(vancouver, students["America/Edmonton"], "2026-12-10T11:00", "America/Vancouver"),
    ]
    # One student, two instructors.
    london = teachers["Europe/London"]
    torn = students["America/Winnipeg"]
    booked["student_clash"] = [
        book(london, torn, "2026-12-11T17:00", "Europe/London"),
        book(vancouver, torn, "2026-12-11T10:00", "America/Vancouver"),
    ]
    booked["gap"] = book(
        teachers["Europe/Chisinau"], students["Europe/Chisinau"], GAP, "Europe/Chisinau"
    )
    # A weekly place of an hour on Vancouver's Thursdays, for somebody in Toronto.
    dates = {"first_on": date(2026, 10, 12), "last_on": date(2026, 12, 4)}
    term = publish_term(
        actor=cast.make_admin(), name="Autumn", lessons_promised=8, breaks=[], now=now, **dates
    )
    weekly = cast.make_student("Weekly Student", "America/Toronto")
    asked = {
        "actor": weekly.user,
        "student": weekly,
        "instructor": vancouver,
        "offering": lesson,
        "term": term,
    }
    place_taken: Any = write(
        lambda: take_weekly_place(**asked, weekday=3, wall_at=15 * 60, now=now), now=now
    )
    booked["weekly_place"] = place_taken.pk
    # A lesson on London's clock, which stays, for somebody in Vancouver, whose own clock changes.
    booked["own_clock"] = book(
        london,
        cast.make_student("Somebody Vancouver", "America/Vancouver"),
        "2026-11-18T17:00",
        "Europe/London",
    )
    write(lambda: keep_zone_rules(now=now), now=now)
    print(json.dumps(booked))


def _group(cast: Any, teacher: Any, time_zone: str, wall: str, now: datetime) -> Any:
    """A meeting that was made while their hours were on another clock."""
    from bookings.domain.vocabulary import Kind
    from bookings.domain.zones import zone

    local = datetime.fromisoformat(wall)
    return cast.make_meeting(
        cast.make_offering("Harp circle", Kind.GROUP_MEETING, 25),
        teacher,
        local.replace(tzinfo=zone(time_zone)).astimezone(now.tzinfo),
        time_zone=zone(time_zone),
        wall_on=local.date(),
        wall_at=local.time(),
        places=6,
    )


if __name__ == "__main__":
    main()
