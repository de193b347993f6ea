"""What the admins of a large school have lists of."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import cycle, islice

from accounts.models import Instructor, Student
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models import (
    Booking,
    CoverQuestion,
    Meeting,
    MoveRequest,
    OutboxMessage,
    Plan,
    PrivacyRequest,
    ProposedTimes,
    Statement,
    StudioPolicy,
)
from tests.cast import NOW
from tests.functional.pages.school import School
from tests.school.crowd_meetings import bare_meeting

_BATCH = 2000


def add_office(school: School, learners: Sequence[Student], teachers: Sequence[Instructor]) -> None:
    """What an admin has lists of: requests, proposals, plans, questions, statements, emails."""
    _requests(school)
    _proposals(school, learners, teachers)
    _plans(school, teachers)
    _statements([school.ilse, *teachers])
    PrivacyRequest.objects.bulk_create(
        PrivacyRequest(student=student, kind="access", asked_by=school.dag, asked_at=NOW)
        for student in learners[:200]
    )
    _mails(school)


def _requests(school: School) -> None:
    ahead = (
        Booking.objects.held()
        .filter(
            starts_at__gt=NOW + timedelta(days=2),
            meeting__offering=school.consultation,
            move_requests__isnull=True,
        )
        .exclude(pk=school.booking.pk)
    )
    MoveRequest.objects.bulk_create(
        MoveRequest(
            booking=booking,
            asked_by=school.dag,
            starts_at=booking.starts_at + timedelta(days=7),
            sequence=None,
            asked_at=NOW - timedelta(hours=3),
        )
        for booking in ahead.order_by("pk")[:400]
    )


def _proposals(school: School, learners: Sequence[Student], teachers: Sequence[Instructor]) -> None:
    """Four hundred open proposals of one time each, after all lessons."""
    policy = StudioPolicy.objects.latest("version")
    answer_by, first = NOW + timedelta(hours=28), NOW.replace(hour=8) + timedelta(days=40)
    shared = list(islice(zip(learners, cycle([school.ilse, *teachers])), 400))
    made = ProposedTimes.objects.bulk_create(
        ProposedTimes(
            student=student,
            offering=school.consultation,
            instructor=teacher,
            made_by=teacher.user,
            made_at=NOW,
            answer_by=answer_by,
        )
        for student, teacher in shared
    )
    held = Meeting.objects.bulk_create(
        bare_meeting(
            school.consultation,
            one.instructor,
            first + timedelta(days=number // (len(teachers) + 1)),
            status="TENTATIVE",
            is_proposed=True,
        )
        for number, one in enumerate(made)
    )
    Booking.objects.bulk_create(
        Booking(
            meeting=meeting,
            student=one.student,
            policy=policy,
            standing="OFFERED",
            answer_by=answer_by,
            proposed=one,
            booked_at=NOW,
            starts_at=meeting.starts_at,
            ends_at=meeting.ends_at,
        )
        for one, meeting in zip(made, held, strict=True)
    )


def _plans(school: School, teachers: Sequence[Instructor]) -> None:
    """Three hundred plans, and as many questions to Wren as substitute."""
    asked = {
        "instructor": school.ilse.pk,
        "starts_at": rfc3339(NOW),
        "ends_at": rfc3339(NOW + timedelta(hours=4)),
    }
    plans = Plan.objects.bulk_create(
        Plan(
            kind=PlanKind.COVER,
            asked=asked,
            answer={"handovers": [], "uncovered": []},
            state=PlanState.DISCARDED if number else PlanState.READY,
            ended_at=NOW if number else None,
            made_at=NOW - timedelta(hours=number),
            solved_at=NOW,
        )
        for number in range(300)
    )
    ahead = Meeting.objects.filter(instructor__in=teachers, starts_at__gt=NOW + timedelta(days=3))
    CoverQuestion.objects.bulk_create(
        CoverQuestion(
            plan=plans[0],
            meeting=meeting,
            instructor=school.wren,
            starts_at=meeting.starts_at,
            asked_at=NOW,
        )
        for meeting in ahead.order_by("pk")[:300]
    )


def _statements(teachers: Sequence[Instructor]) -> None:
    """Two years of months of each instructor."""
    months = [date(2024 + month // 12, month % 12 + 1, 1) for month in range(24)]
    Statement.objects.bulk_create(
        Statement(
            instructor=teacher,
            first_on=month,
            last_on=month + timedelta(days=27),
            issued_at=NOW - timedelta(days=50),
        )
        for month in months
        for teacher in teachers
    )


def _mails(school: School) -> None:
    """What the outbox holds of some weeks, each about a meeting."""
    meetings = list(Meeting.objects.order_by("-pk").values_list("pk", flat=True)[:5000])
    OutboxMessage.objects.bulk_create(
        (
            OutboxMessage(
                recipient=school.hedda,
                kind="told",
                meeting_id=meetings[number % len(meetings)],
                subject_key=f"mail:{number}",
                state_key="x",
                to_address=f"reader{number}@rowanmere.example",
                title="x",
                message_id=f"mail-{number}",
                made_at=NOW - timedelta(hours=number // 40),
                due_at=NOW - timedelta(hours=number // 40),
                state="sent",
            )
            for number in range(20_000)
        ),
        batch_size=_BATCH,
    )
