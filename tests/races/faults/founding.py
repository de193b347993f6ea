"""The school of a run with kills or a full disk."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from tests.races.faults.clients import Scene

CLIENTS, INSTRUCTORS, DAYS, FIRST_DAY = 6, 3, 4, 3
# Wide rules of load and of open consultations: what must hold holds whatever the rules.
WIDE = {
    "open_consultations": 10_000,
    "run_minutes": 900,
    "day_minutes": 900,
    "week_minutes": 6000,
}


def found_school(port: int) -> tuple[Scene, list[tuple[int, str]]]:
    """Three instructors, six students with a token each, and three groups; Django is set up."""
    from knox.models import AuthToken

    from bookings.domain.vocabulary import Kind
    from tests import cast

    midnight = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    first = midnight + timedelta(days=FIRST_DAY)
    cast.make_policy(in_force_from=first - timedelta(days=400), **WIDE)
    lesson = cast.make_offering()
    group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
    teachers = [cast.make_instructor(f"Teacher {number}", "UTC") for number in range(INSTRUCTORS)]
    for teacher in teachers:
        cast.teaches(teacher, lesson, group)
        cast.publish(teacher, cast.EVERY_DAY)
    days = [first + timedelta(days=DAYS + 1 + number) for number in range(3)]
    meetings = [
        cast.make_meeting(group, teachers[0], day, places=2, title="Ornaments") for day in days
    ]
    students = [cast.make_student(f"Student {number}") for number in range(CLIENTS)]
    tokens = [(student.pk, AuthToken.objects.create(user=student.user)[1]) for student in students]
    scene = Scene(
        port,
        lesson.pk,
        [row.pk for row in teachers],
        [row.pk for row in meetings],
        first,
        DAYS,
    )
    return scene, tokens
