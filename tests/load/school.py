"""A stored school of some size, and what its people send."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from itertools import islice
from uuid import uuid4

from django.conf import settings
from django.test import Client
from knox.models import AuthToken

from accounts.models import Instructor, Student
from bookings.domain.timeline import rfc3339
from bookings.door import write
from bookings.models import Feed, Offering
from bookings.operations.subscriptions import open_feed
from tests.bench import stored
from tests.bench.booking import wishes
from tests.load.clients import Request

READERS = 40
"""So many people of a kind take turns."""
DAYS = 14
NEW = 1500


@dataclass(frozen=True, slots=True)
class Size:
    """How large a school is: students, and meetings of its 50 instructors."""

    students: int
    meetings: int

    def __str__(self) -> str:
        return f"{self.students:,} students, {self.meetings:,} meetings"


def found(size: Size) -> None:
    """Stores it in the database in use: 10,000 meetings at most around today, the others before.

    NEW more students have no meeting yet: they are who books.
    """
    stored.STUDENTS = size.students + NEW
    stored.found_school()
    stored.STUDENTS = size.students
    near = min(size.meetings, 10_000)
    stored.add_meetings(near, first_day=-10, per_day=4)
    if size.meetings > near:
        rest = size.meetings - near
        days = -(-rest // (stored.INSTRUCTORS * stored.EVERY_DAY))
        stored.add_meetings(rest, first_day=-20 - days, per_day=stored.EVERY_DAY)


def searches() -> list[Request]:
    """Free times of two weeks over all instructors, as an application asks for them."""
    until = stored.NOW + timedelta(days=DAYS)
    path = f"/api/v1/slots/?offering={Offering.objects.get().pk}&to={rfc3339(until)}&limit=20"
    return [Request(path=path, headers=_signed(student)) for student in _students()]


def pages() -> list[Request]:
    """The page on which families choose a time."""
    address = f"/times/?offering={Offering.objects.get().pk}"
    return [Request(path=address, headers=_cookie(student)) for student in _students()]


def feeds() -> Sequence[Request]:
    """Instructors' calendar feeds, whole."""
    people = Instructor.objects.select_related("user").order_by("pk")[:READERS]
    Feed.objects.all().delete()
    return [Request(path=f"/calendar/{_opened(person)}.ics") for person in people]


def _opened(person: Instructor) -> str:
    """The secret of a new feed."""
    act = partial(open_feed, actor=person.user, label="Phone", now=stored.NOW)
    return write(act, now=stored.NOW)[1]


def polls(of: Sequence[Request]) -> list[Request]:
    """The same feeds by who has read them before: nothing has changed."""
    client = Client()
    return [
        Request(path=one.path, headers={"If-None-Match": client.get(one.path)["ETag"]}, status=304)
        for one in of
    ]


def bookings(count: int) -> list[Request]:
    """So many bookings, each of another student at another start."""
    return list(islice(_bookings(count), count))


def _bookings(count: int) -> Iterator[Request]:
    for wish in wishes(count):
        body = {
            "student": wish.student.pk,
            "offering": wish.offering.pk,
            "instructor": wish.instructor.pk,
            "starts_at": rfc3339(wish.starts_at),
        }
        more = {"Content-Type": "application/json", "Idempotency-Key": f'"{uuid4()}"'}
        yield Request(
            method="POST",
            path="/api/v1/bookings/",
            body=json.dumps(body),
            headers={**_signed(wish.student), **more},
            status=201,
        )


def _students() -> list[Student]:
    return list(Student.objects.select_related("user").order_by("pk")[:READERS])


def _signed(student: Student) -> dict[str, str]:
    return {"Authorization": f"Bearer {AuthToken.objects.create(student.user)[1]}"}


def _cookie(student: Student) -> dict[str, str]:
    browser = Client()
    browser.force_login(student.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"Cookie": f"{name}={browser.cookies[name].value}"}
