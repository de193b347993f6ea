"""Races over real HTTP, among 20,000 stored meetings: a tiny table hides faults that a large one shows."""

from collections import Counter
from datetime import timedelta

import pytest
from knox.models import AuthToken

from accounts.models import Instructor
from bookings.domain.vocabulary import Kind, Standing
from bookings.models import Booking, Meeting, Offering
from tests import cast
from tests.cast import at
from tests.races.drivers import Shot, volley
from tests.races.server import serve

pytestmark = [pytest.mark.django_db(transaction=True)]
STORED, CLIENTS = 20_000, 100
BOOKINGS = "/api/v1/bookings/"


def store_meetings(lesson: Offering) -> None:
    """20,000 meetings of forty other instructors, an hour apart, from now on."""
    from django.utils import timezone

    first = timezone.now().replace(minute=0, second=0, microsecond=0)
    people = [cast.make_instructor(f"Teacher {i}") for i in range(40)]
    rows = []
    for i in range(STORED):
        starts_at = first + timedelta(hours=i // len(people))
        ends_at = starts_at + timedelta(minutes=25)
        rows.append(
            Meeting(
                offering=lesson,
                instructor=people[i % len(people)],
                wall_on=starts_at.date(),
                wall_at=starts_at.time(),
                time_zone="UTC",
                minutes=25,
                starts_at=starts_at,
                ends_at=ends_at,
                held_until=ends_at + timedelta(minutes=5),
                tzdata_version="2026f",
                made_at=first,
                changed_at=first,
                taken=1,
            )
        )
    Meeting.objects.bulk_create(rows, batch_size=2000)


def clients(level: int = 4) -> list[str]:
    """Tokens of a hundred students with accounts of their own."""
    students = [cast.make_student(f"Student {i}", level=level) for i in range(CLIENTS)]
    return [AuthToken.objects.create(user=student.user)[1] for student in students]


def next_slot(instructor: Instructor):
    """A start two days ahead at 12:00 in the instructor's UTC hours."""
    from django.utils import timezone

    return (timezone.now() + timedelta(days=2)).replace(hour=12, minute=0, second=0, microsecond=0)


@pytest.fixture
def school():
    cast.make_policy(in_force_from=at("2026-01-01T00:00Z"))
    lesson = cast.make_offering()
    store_meetings(lesson)
    ilse = cast.make_instructor("Ilse Quarrow", "UTC")
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    return lesson, ilse


def test_a_hundred_clients_on_one_slot_and_on_twelve_places(school):
    """One slot: one 201, ninety-nine 409 with three near times. Twelve places: exactly twelve. The tables agree with the answers."""
    lesson, ilse = school
    start = next_slot(ilse)
    group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
    meeting = cast.make_meeting(group, ilse, start + timedelta(hours=3), places=12, title="Ornaments")
    tokens = clients()
    with serve() as port:
        slot = volley(
            port,
            [Shot(token, BOOKINGS, {"offering": lesson.pk, "instructor": ilse.pk, "starts_at": start.isoformat()}) for token in tokens],
        )
        places = volley(port, [Shot(token, BOOKINGS, {"meeting": meeting.pk, "as": "player"}) for token in tokens])

    assert Counter(hit.status for hit in slot) == {201: 1, 409: CLIENTS - 1}
    losers = [hit for hit in slot if hit.status == 409]
    assert {(hit.content_type, hit.body["code"], len(hit.body["near"])) for hit in losers} == {("application/problem+json", "taken", 3)}
    booked = Booking.objects.filter(meeting__starts_at=start, meeting__instructor=ilse, standing=Standing.HELD)
    assert Meeting.objects.filter(instructor=ilse, starts_at=start).count() == booked.count() == 1

    assert Counter(hit.status for hit in places) == {201: 12, 409: CLIENTS - 12}
    assert {hit.body["code"] for hit in places if hit.status == 409} == {"no-place"}
    meeting.refresh_from_db()
    assert meeting.taken == Booking.objects.filter(meeting=meeting, standing=Standing.HELD).count() == 12
    for name, hits in (("one slot", slot), ("twelve places", places)):
        print(f"{name}: p99 {sorted(hit.seconds for hit in hits)[CLIENTS * 99 // 100 - 1] * 1000:.0f} ms")
