"""The readers of emails about a student, and how the student is named to each."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TypeVar

from django.db.models import Q

from accounts.models import Guardianship, Student, User
from bookings.domain.families import grown_at, hears, is_answered_for, is_child
from bookings.models import (
    AskedHours,
    Booking,
    Meeting,
    OwedLesson,
    ProposedTimes,
    WaitingPlace,
    WeeklyPlace,
)

Place = TypeVar("Place", AskedHours, Booking, OwedLesson, ProposedTimes, WaitingPlace, WeeklyPlace)


def readers_of(student: Student, *, now: datetime) -> list[User]:
    """The readers of emails about a student: a grown student, or the guardians who answer for one.

    Never a child, and nobody whose account is closed.
    """
    return _families([student], now)[student.pk]


def note_readers(student: Student, *, now: datetime) -> list[User]:
    """The readers of emails about a student's assessment.

    They are the family, but no guardian of a grown child, who may not read assessments.
    """
    if is_child(student, now):
        return readers_of(student, now=now)
    account = student.user
    return [account] if account is not None and account.is_active else []


def by_reader(places: Iterable[Place], now: datetime) -> dict[User, list[Place]]:
    """The places by reader, so that each reader gets one email."""
    places = list(places)
    families = _families({place.student_id: place.student for place in places}.values(), now)
    readers: dict[User, list[Place]] = {}
    for place in places:
        for reader in families[place.student_id]:
            readers.setdefault(reader, []).append(place)
    return readers


def of_age_later(places: Iterable[Place], now: datetime) -> dict[User, list[Place]]:
    """The places by child with an account, who becomes a reader on coming of age."""
    readers: dict[User, list[Place]] = {}
    for place in places:
        account = place.student.user
        if account is not None and account.is_active and is_child(place.student, now):
            readers.setdefault(account, []).append(place)
    return readers


def hears_from(reader: User, places: Iterable[Place], now: datetime) -> datetime | None:
    """When a child becomes a reader about these places; None for whoever is one already."""
    own = (grown_at(place.student) for place in places if place.student.user_id == reader.pk)
    return max((grown for grown in own if grown is not None and grown > now), default=None)


def heard_at(reader: User, places: Sequence[Place], due_at: datetime) -> Sequence[Place]:
    """The places about which the reader still gets emails at `due_at`.

    All of them where there are none: the message then leaves only if that changes.
    """
    return [place for place in places if hears(place.student, reader.pk, due_at)] or places


def _families(students: Iterable[Student], now: datetime) -> dict[int, list[User]]:
    families: dict[int, list[User]] = {}
    children = []
    for student in students:
        account = student.user
        families[student.pk] = (
            [account]
            if account is not None and account.is_active and not is_child(student, now)
            else []
        )
        if is_answered_for(student, now):
            children.append(student.pk)
    if children:
        answering = Guardianship.objects.answering().filter(student__in=children)
        for row in answering.select_related("guardian").order_by("guardian_id"):
            families[row.student_id].append(row.guardian)
    return families


def held_beside(
    booking: Booking, readers: Iterable[User], now: datetime
) -> dict[User, list[Booking]]:
    """Other places of these readers' families in the same meeting, such as a sibling's."""
    if booking.meeting.offering.is_one_on_one:
        return {}
    people = list(readers)
    children = Guardianship.objects.answering().filter(guardian__in=people).student_ids()
    family = Q(student__in=children) | Q(student__user__in=people)
    held = Booking.objects.in_meetings([booking.meeting]).held()
    others = held.filter(family).exclude(pk=booking.pk)
    return by_reader(others.with_student().distinct().order_by("pk"), now)


def names(
    reader: User,
    places: Iterable[
        AskedHours | Booking | OwedLesson | ProposedTimes | WaitingPlace | WeeklyPlace
    ],
) -> list[str]:
    """The students as their reader calls them, each once: "you" first, then first names."""
    called = [
        "you" if place.student.user_id == reader.pk else place.student.first_name
        for place in places
    ]
    return sorted(dict.fromkeys(called), key=lambda name: name != "you")


def as_taught(student: Student, now: datetime) -> str:
    """The student's name and level for an instructor: "Kit, level 3", a minor without surname."""
    name = student.first_name if is_child(student, now) else student.full_name
    return f"{name}, level {student.level}"


def short_name(user: User) -> str:
    """A name that a stranger may read: "I. Quarrow"."""
    first, *rest = user.name.split()
    return f"{first[0]}. {rest[-1]}" if rest else first


def instructor_reader(meeting: Meeting) -> User:
    """The account of the meeting's instructor."""
    return meeting.instructor.user
