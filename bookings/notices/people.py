"""Who is written to about a student, and what she is called in front of whom."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TypeVar

from django.db.models import Q

from accounts.models import Guardianship, Student, User
from bookings.domain.families import grown_at, hears, is_answered_for, is_child
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting, WaitingPlace, WeeklyPlace

Place = TypeVar("Place", Booking, WaitingPlace, WeeklyPlace)


def family_of(student: Student, *, now: datetime) -> list[User]:
    """Who gets the mail about a student: herself, or who answers for her: each guardian with an active account, never the child."""
    return _families([student], now)[student.pk]


def note_readers(student: Student, *, now: datetime) -> list[User]:
    """Who hears of a student's note: the family, but no guardian of a grown child, to whom notes
    are closed.
    """
    if is_child(student, now):
        return family_of(student, now=now)
    account = student.user
    return [account] if account is not None and account.is_active else []


def by_reader(places: Iterable[Place], now: datetime) -> dict[User, list[Place]]:
    """Bookings, waiting places or weekly places by the person who is written to about them, so that a family gets one message."""
    places = list(places)
    families = _families({place.student_id: place.student for place in places}.values(), now)
    readers: dict[User, list[Place]] = {}
    for place in places:
        for reader in families[place.student_id]:
            readers.setdefault(reader, []).append(place)
    return readers


def of_age_later(places: Iterable[Place], now: datetime) -> dict[User, list[Place]]:
    """Children with an account of their own, who are written to about these places from the day they come of age."""
    readers: dict[User, list[Place]] = {}
    for place in places:
        account = place.student.user
        if account is not None and account.is_active and is_child(place.student, now):
            readers.setdefault(account, []).append(place)
    return readers


def hears_from(reader: User, places: Iterable[Place], now: datetime) -> datetime | None:
    """When this reader will be written to about these places: a child as it comes of age. None = they are already."""
    own = (grown_at(place.student) for place in places if place.student.user_id == reader.pk)
    return max((grown for grown in own if grown is not None and grown > now), default=None)


def heard_at(reader: User, places: Sequence[Place], due_at: datetime) -> Sequence[Place]:
    """Those of these places about which the reader is still written to then; all, where it is none
    and the message will not leave unless that changes.
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
        active = Guardianship.objects.filter(student__in=children, guardian__is_active=True)
        for row in active.select_related("guardian").order_by("guardian_id"):
            families[row.student_id].append(row.guardian)
    return families


def held_beside(
    booking: Booking, readers: Iterable[User], now: datetime
) -> dict[User, list[Booking]]:
    """The other places that these readers' people hold in the same meeting: a brother's, or the reader's own."""
    if booking.meeting.offering.is_one_on_one:
        return {}
    hers = Q(student__guardians__in=list(readers)) | Q(student__user__in=list(readers))
    others = Booking.objects.filter(hers, meeting=booking.meeting, standing=Standing.HELD).exclude(
        pk=booking.pk
    )
    return by_reader(
        others.select_related("student__user", "policy").distinct().order_by("pk"), now
    )


def names(reader: User, places: Iterable[Booking | WaitingPlace | WeeklyPlace]) -> list[str]:
    """The students as this reader calls them: "you" for herself, a child's first name."""
    called = [
        "you" if place.student.user_id == reader.pk else place.student.first_name
        for place in places
    ]
    return sorted(dict.fromkeys(called), key=lambda name: name != "you")


def as_taught(student: Student, now: datetime) -> str:
    """The student in front of her instructor: a minor without her surname."""
    name = student.first_name if is_child(student, now) else student.full_name
    return f"{name}, level {student.level}"


def short_name(user: User) -> str:
    """What a stranger may read: "I. Quarrow"."""
    first, *rest = user.name.split()
    return f"{first[0]}. {rest[-1]}" if rest else first


def instructor_of(meeting: Meeting) -> User:
    return meeting.instructor.user
