"""When a group should meet: asked, solved, and adopted as meetings with their members booked."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.planning.group import GroupPlan, GroupProblem, PlannedMeeting, Reason
from bookings.domain.planning.group_plan import plan_group
from bookings.domain.planning.model import Watch
from bookings.domain.plans import Solved
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, Offering, Plan
from bookings.operations.carried import carry
from bookings.operations.locks import hold_teachers, lock_students
from bookings.operations.meetings import create_meeting
from bookings.operations.places import book_place
from bookings.operations.planning.work import PlanWork, refuse_conflicts, still_named
from bookings.queries.planning.group import MOST_DAYS, group_named, read_group

REASON = "Placed by the plan of the group."
WHY = {
    Reason.NEVER: "cannot come at any of these times",
    Reason.LEVEL: "is at another level than those who meet",
    Reason.FULL: "could come, but every place is taken",
    Reason.OTHER_TIMES: "can come at other times only, which suit fewer",
}


def check(asked: dict[str, Any], *, now: datetime) -> None:
    """Refused("invalid") for people who are not here, and for dates that are over or too many."""
    first_on, last_on = date.fromisoformat(asked["first_on"]), date.fromisoformat(asked["last_on"])
    if last_on < first_on:
        raise Refused("end-before-start", "Choose a last day after the first.", field="last_on")
    if last_on - first_on > timedelta(days=MOST_DAYS):
        raise Refused("invalid", f"Choose at most {MOST_DAYS} days.", field="last_on")
    if last_on < now.date() - timedelta(days=1):
        raise Refused("past", "These days are over. Choose later ones.", field="last_on")
    group_named(asked)


def solve(problem: GroupProblem, seconds: float, watch: Watch) -> Solved:
    """The plan as plain values."""
    plan = plan_group(problem, seconds=seconds, watch=watch)
    answer = _plain(plan, problem)
    answer["split"] = [_plain(part, problem) for part in plan.split]
    answer["day"] = _day(plan, problem)
    return Solved.of(answer, plan)


def _plain(plan: GroupPlan, problem: GroupProblem) -> dict[str, Any]:
    placed = {share.member for share in plan.shares} - {pk for pk, _ in plan.unplaced}
    return {
        "meetings": [_meeting(meeting, problem) for meeting in plan.meetings],
        "members": [
            {"student": share.member, "carried": share.carried, "added": share.new}
            for share in plan.shares
            if share.member in placed
        ],
        "unplaced": [{"student": pk, "why": WHY[reason]} for pk, reason in plan.unplaced],
    }


def _meeting(meeting: PlannedMeeting, problem: GroupProblem) -> dict[str, Any]:
    costs = {member.id: member.costs for member in problem.members}
    at = problem.starts.index(meeting.start)
    return {
        "starts_at": rfc3339(meeting.start.starts_at),
        "instructor": meeting.start.instructor_id,
        "burdens": {str(pk): costs[pk][at] for pk in meeting.members},
    }


def _day(plan: GroupPlan, problem: GroupProblem) -> dict[str, int]:
    """The candidates of the first meeting's day, each with the greatest burden of its members;
    those to which not all of them can come are left out.
    """
    if not plan.meetings:
        return {}
    first = plan.meetings[0]
    members = [member for member in problem.members if member.id in first.members]
    found = {}
    for i, start in enumerate(problem.starts):
        costs = [member.costs[i] for member in members]
        same = (start.on, start.instructor_id) == (first.start.on, first.start.instructor_id)
        if same and None not in costs:
            found[rfc3339(start.starts_at)] = max(cost for cost in costs if cost is not None)
    return found


def adopt(plan: Plan, *, actor: User, now: datetime) -> None:
    """Makes every meeting and books its members, or refuses with each conflict.

    Each family gets one email about all its meetings, and each instructor one about who is booked.
    """
    offering, instructors, students = still_named(lambda: group_named(plan.asked))
    hold_teachers([one.pk for one in instructors], students)
    lock_students([one.pk for one in students])
    people = {one.pk: one for one in instructors}, {one.pk: one for one in students}
    conflicts: list[dict[str, Any]] = []
    booked: list[Booking] = []
    for row in (plan.answer or {})["meetings"]:
        placed, against = _adopt_meeting(plan, row, offering, *people, actor=actor, now=now)
        booked += placed
        conflicts += against
    refuse_conflicts(conflicts)
    carry(booked)
    outbox.enqueue(notices.places_booked(booked, now=now), now=now)


def _adopt_meeting(
    plan: Plan,
    row: Mapping[str, Any],
    offering: Offering,
    instructors: Mapping[int, Instructor],
    students: Mapping[int, Student],
    *,
    actor: User,
    now: datetime,
) -> tuple[list[Booking], list[dict[str, Any]]]:
    """One meeting with its members' places, and what stands against it or one of them now."""
    starts_at = datetime.fromisoformat(row["starts_at"])
    try:
        with transaction.atomic():
            meeting = create_meeting(
                actor=actor,
                offering=offering,
                instructor=instructors[row["instructor"]],
                starts_at=starts_at,
                title=plan.asked["title"],
                places=plan.asked["places"],
                now=now,
            )
    except Refused as refusal:
        return [], [_conflict(row, refusal)]
    booked, conflicts = [], []
    for pk, burden in row["burdens"].items():
        try:
            with transaction.atomic():
                place = _place(meeting, students[int(pk)], burden, actor=actor, now=now)
                booked.append(place)
        except Refused as refusal:
            conflicts.append(_conflict(row, refusal, student=int(pk)))
    return booked, conflicts


def _place(
    meeting: Meeting, student: Student, burden: int, *, actor: User, now: datetime
) -> Booking:
    """Books the student, and keeps what the hour costs them."""
    booking = book_place(
        actor=actor,
        student=student,
        meeting=meeting,
        place_kind=PlaceKind.PLAYER,
        reason=REASON,
        is_told=False,
        now=now,
    )
    booking.burden = burden
    booking.save(update_fields=["burden"])
    return booking


def _conflict(row: Mapping[str, Any], refusal: Refused, **whom: int) -> dict[str, Any]:
    return {
        "starts_at": row["starts_at"],
        "instructor": row["instructor"],
        **whom,
        "code": refusal.code,
        "detail": refusal.detail,
    }


def discard(plan: Plan, *, now: datetime) -> None:
    """Asks no family for its hours any more: the emails that have not left stay here."""
    outbox.withdraw_asked(notices.plan_key(plan))


WORK = PlanWork(check=check, read=read_group, solve=solve, adopt=adopt, discard=discard)
