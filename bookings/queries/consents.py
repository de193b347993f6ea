"""The words that a guardian is asked to agree to, about one child."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings

from accounts.models import Guardianship, Student
from bookings.domain.consent import DEFAULT, filled
from bookings.domain.families import is_child
from bookings.domain.wall import clock
from bookings.models import ConsentText
from bookings.queries.policies import policy_in_force


def has_consent(student: Student, *, now: datetime) -> bool:
    """Whether the student may have live lessons.

    An adult may; a minor may if a guardian who answers for them has consented.
    """
    if not is_child(student, now):
        return True
    return Guardianship.objects.answering().agreed().filter(student=student).exists()


def without_consent(students: Sequence[Student], *, now: datetime) -> set[int]:
    """The ids of those of these students who may not have live lessons: one query."""
    children = {student.pk for student in students if is_child(student, now)}
    agreed = Guardianship.objects.answering().agreed().filter(student__in=children)
    return children - set(agreed.values_list("student_id", flat=True))


@dataclass(frozen=True, slots=True)
class Wording:
    """One version of the words.

    In `wording_in_force` the sentences still hold their placeholders.
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
