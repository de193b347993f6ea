"""The words that a guardian is asked to agree to, about one child."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings

from accounts.models import Guardianship, Student, User
from bookings.domain.consent import DEFAULT, filled
from bookings.domain.families import is_child
from bookings.domain.wall import clock
from bookings.models import ConsentText
from bookings.queries.policies import policy_in_force


def has_consent(student: Student, *, now: datetime) -> bool:
    """Whether live lessons may be given: to an adult, and to a minor if a guardian with an open
    account has consented.
    """
    if not is_child(student, now):
        return True
    return Guardianship.objects.filter(
        student=student, consent_at__isnull=False, guardian__is_active=True
    ).exists()


@dataclass(frozen=True, slots=True)
class Awaited:
    """A child without a consent on file. `form` is the reader's own to fill in, None if they are no
    guardian.
    """

    student: Student
    form: Guardianship | None


def consents_awaited(user: User, students: Iterable[Student], *, now: datetime) -> list[Awaited]:
    """Which of these students cannot be booked for yet, with the reader's own form; one query.

    No query without a child among them.
    """
    children = [one for one in students if one.is_active and is_child(one, now)]
    if not children:
        return []
    rows = list(Guardianship.objects.filter(student__in=children, guardian__is_active=True))
    given = {row.student_id for row in rows if row.consent_at is not None}
    own = {row.student_id: row for row in rows if row.guardian_id == user.pk}
    return [Awaited(one, own.get(one.pk)) for one in children if one.pk not in given]


@dataclass(frozen=True, slots=True)
class Wording:
    """One version of the words. In `wording_in_force` the sentences still hold their
    placeholders.
    """

    version: str
    sentences: tuple[str, ...]


def wording_in_force(now: datetime) -> Wording:
    """The school's newest words, or the product's own if it has published none."""
    newest = ConsentText.objects.filter(published_at__lte=now).first()
    if newest is None:
        return Wording(settings.CONSENT_WORDING, DEFAULT)
    return Wording(newest.version, tuple(newest.text.splitlines()))


def wording_about(student: Student, *, now: datetime) -> Wording:
    """The words in force about this child, with the hours of the policy in force."""
    wording, policy = wording_in_force(now), policy_in_force(now)
    sentences = filled(
        wording.sentences,
        child=student.first_name,
        opens=clock(policy.minor_opens),
        closes=clock(policy.minor_closes),
        school=settings.SCHOOL_NAME,
    )
    return Wording(wording.version, tuple(sentences))
