"""The proposed times that a person may see, answer or take back."""

from datetime import datetime

from django.db.models import Q

from accounts.models import Instructor, User
from bookings.access.instructors import instructor_of, is_now
from bookings.access.refusals import not_there
from bookings.access.students import acts_for, own_students
from bookings.domain.errors import Refused
from bookings.models import ProposedTimes, ProposedTimesQuerySet


def proposals_of(user: User, *, now: datetime) -> ProposedTimesQuerySet:
    """Proposals to students for whom this person acts, and those they made; an admin sees all."""
    rows = ProposedTimes.objects.select_related(
        "student__user", "offering", "instructor__user", "instructor__week"
    )
    if user.is_staff:
        return rows
    mine = Q(instructor__user=user, instructor__is_active=True)
    return rows.filter(Q(student__in=own_students(user, now=now)) | mine)


def access_proposal_to_answer(user: User, proposal_id: int, *, now: datetime) -> ProposedTimes:
    """A proposal that this person may answer: for the student, or as an admin.

    Refused: "not-found", "not-allowed" for the instructor who made it.
    """
    found = access_proposal(user, proposal_id, now=now)
    if not acts_for(user, found.student_id, now=now):
        raise Refused("not-allowed", "The student's family answers; you can take the times back.")
    return found


def access_proposal_to_withdraw(user: User, proposal_id: int, *, now: datetime) -> ProposedTimes:
    """A proposal that this person may take back: its instructor, or an admin.

    Refused: "not-found", "not-allowed" for the family.
    """
    found = access_proposal(user, proposal_id, now=now)
    if not (user.is_staff or is_now(user, found.instructor)):
        raise Refused("not-allowed", "Only the instructor or an admin can take these times back.")
    return found


def access_proposal(user: User, proposal_id: int, *, now: datetime) -> ProposedTimes:
    """A proposal that this person may see. Refused("not-found")."""
    found = proposals_of(user, now=now).filter(pk=proposal_id).first()
    if found is None:
        raise not_there()
    return found


def may_propose(user: User) -> Instructor | None:
    """The instructor whose proposals this person sees; None for an admin, who sees everybody's.

    Refused("not-allowed") for anybody else.
    """
    if user.is_staff:
        return None
    instructor = instructor_of(user)
    if instructor is None:
        raise Refused("not-allowed", "Only an instructor or an admin proposes times.")
    return instructor
