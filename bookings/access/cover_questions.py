"""The questions to substitutes that a person may see and answer: only their own."""

from datetime import datetime

from accounts.models import User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanState
from bookings.models import CoverQuestion, CoverQuestionQuerySet


def cover_questions_of(user: User, *, now: datetime) -> CoverQuestionQuerySet:
    """Open questions to this instructor, by start. Refused("not-allowed") for anybody else."""
    instructor = instructor_of(user)
    if instructor is None:
        raise Refused("not-allowed", "Only an instructor is asked to teach as a substitute.")
    rows = CoverQuestion.objects.unanswered().filter(instructor=instructor, starts_at__gt=now)
    rows = rows.exclude(plan__state__in=(PlanState.ADOPTED, PlanState.DISCARDED))
    return rows.select_related("meeting__offering").order_by("starts_at", "pk")


def access_cover_question(user: User, question_id: int) -> CoverQuestion:
    """A question to this person, open or not. Refused("not-found")."""
    rows = CoverQuestion.objects.select_related("plan", "instructor__user", "meeting__offering")
    mine = rows.filter(instructor__user=user, instructor__is_active=True)
    found = mine.filter(pk=question_id).first()
    if found is None:
        raise not_there()
    return found
