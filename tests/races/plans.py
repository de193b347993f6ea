"""What a race is: rows made before, shots, and what must be so afterwards.

The words of the API in one place.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from accounts.models import Instructor
from bookings import clock
from bookings.domain.vocabulary import PlaceKind
from bookings.door import write
from bookings.models import Booking, Meeting, Offering
from bookings.operations.booking import book_slot
from bookings.operations.places import book_place
from bookings.operations.waiting import join_waiting_list
from tests.races.drivers import Hit, Shot
from tests.races.school import Client, School

API = "/api/v1/"
ANY_VERSION = {"If-Match": "*"}
Complaints = list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Shots, what runs beside them in this process, and a judge of the answers and the tables; a
    complaint is a sentence.
    """

    shots: Sequence[Shot]
    judge: Callable[[Sequence[Hit], int], Complaints]
    meanwhile: Callable[[float], object] | None = None


@dataclass(frozen=True, slots=True)
class Race:
    """One of R1 to R19, R21 or R22; `variants` are asked for in turn, round by round."""

    name: str
    title: str
    plan: Callable[[School, Any], Plan]
    variants: Sequence[Any] = field(default=(None,))


def slot(
    client: Client, offering: Offering, instructor: Instructor, starts_at: datetime, **more: Any
) -> Shot:
    """They book a one-on-one."""
    body = {
        "offering": offering.pk,
        "instructor": instructor.pk,
        "starts_at": starts_at.isoformat(),
        "student": client.student.pk,
    }
    return Shot(
        operation="book-slot",
        path=f"{API}bookings/",
        token=client.token,
        body=body,
        student=client.student.pk,
        **more,
    )


def place(client: Client, meeting: Meeting, **more: Any) -> Shot:
    """They book a place in a group meeting."""
    body = {"meeting": meeting.pk, "as": "player"}
    return Shot(
        operation="book-place",
        path=f"{API}bookings/",
        token=client.token,
        body=body,
        student=client.student.pk,
        **more,
    )


def cancel(client: Client, booking: Booking, **more: Any) -> Shot:
    """They cancel, whatever the version."""
    return _act("cancel", client, booking, None, **more)


def move(client: Client, booking: Booking, to: Mapping[str, Any], **more: Any) -> Shot:
    """They move it, whatever the version."""
    return _act("move", client, booking, to, **more)


def accept(client: Client, offer: Booking, **more: Any) -> Shot:
    """Yes to an offer."""
    path = f"{API}offers/{offer.pk}/accept/"
    told = {"booking": offer.pk}
    return Shot(
        operation="accept",
        path=path,
        token=client.token,
        told=told,
        student=client.student.pk,
        **more,
    )


def _act(
    verb: str, client: Client, booking: Booking, body: Mapping[str, Any] | None, **more: Any
) -> Shot:
    return Shot(
        operation=verb,
        path=f"{API}bookings/{booking.pk}/{verb}/",
        token=client.token,
        body=body,
        headers=ANY_VERSION,
        told={"booking": booking.pk},
        student=client.student.pk,
        **more,
    )


def booked(
    client: Client, offering: Offering, instructor: Instructor, starts_at: datetime
) -> Booking:
    """A one-on-one that stands before the race begins."""
    now = clock.now()
    return write(
        lambda: book_slot(
            actor=_user(client),
            student=client.student,
            offering=offering,
            instructor=instructor,
            starts_at=starts_at,
            now=now,
        ),
        now=now,
    )


def placed(client: Client, meeting: Meeting) -> Booking:
    """A place that is held before the race begins."""
    now = clock.now()
    return write(
        lambda: book_place(
            actor=_user(client),
            student=client.student,
            meeting=meeting,
            place_kind=PlaceKind.PLAYER,
            now=now,
        ),
        now=now,
    )


def waits(client: Client, meeting: Meeting) -> None:
    """They are on the waiting list before the race begins."""
    now = clock.now()
    write(
        lambda: join_waiting_list(
            actor=_user(client),
            student=client.student,
            meeting=meeting,
            place_kind=PlaceKind.PLAYER,
            now=now,
        ),
        now=now,
    )


def _user(client: Client) -> Any:
    return client.student.user


def statuses(hits: Iterable[Hit]) -> Counter[int | None]:
    """How often each status was answered."""
    return Counter(hit.status for hit in hits)


def codes(hits: Iterable[Hit]) -> Counter[str]:
    """How often each refusal was answered."""
    return Counter(
        str(hit.body.get("code")) for hit in hits if hit.status is not None and hit.status >= 400
    )


def expect(what: str, found: object, wanted: object) -> Complaints:
    """A complaint unless the two are equal."""
    return [] if found == wanted else [f"{what}: {found}, and not {wanted}"]


def among(hits: Iterable[Hit], allowed: Iterable[str]) -> Complaints:
    """A complaint where a refusal came that this race cannot explain."""
    strange = {code: count for code, count in codes(hits).items() if code not in set(allowed)}
    return [f"unexpected refusals {strange}"] if strange else []


def refused_well(hits: Iterable[Hit], *, near: int | None = None) -> Complaints:
    """RFC 9457: every refusal is a problem document with a code; `near` asks for that many starts
    nearby.
    """
    found: Complaints = []
    for hit in hits:
        if hit.status is None or hit.status < 400:
            continue
        if hit.content_type != "application/problem+json" or "code" not in hit.body:
            found.append(f"a {hit.status} that is no problem document: {hit.raw[:80]!r}")
        elif near is not None and len(hit.body.get("near", ())) != near:
            found.append(
                f"a refusal with {len(hit.body.get('near', ()))} starts nearby, and not {near}: "
                f"{json.dumps(hit.body)[:200]}"
            )
    return found
