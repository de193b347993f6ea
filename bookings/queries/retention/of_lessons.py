"""Retention of what belongs to lessons and meetings."""

from typing import Final

from django.db.models import Q

from bookings.domain.vocabulary import PlanState
from bookings.models import CoverQuestion, Exchange, Intake, Meeting, Plan, WaitingPlace
from bookings.queries.retention.kind import Kind

LESSONS: Final = (
    Kind(
        code="health",
        model="bookings.Intake",
        title="What families wrote about pain",
        since="the lesson",
        setting="INTAKE_HEALTH_DAYS",
        began="booking__ends_at",
        rows=lambda until: Intake.objects.filter(booking__ends_at__lte=until).exclude(
            sealed_hurts=b""
        ),
        empties=("sealed_hurts",),
    ),
    Kind(
        code="intakes",
        model="bookings.Intake",
        title="What families wrote before a lesson",
        since="the lesson",
        setting="INTAKE_DAYS",
        began="booking__ends_at",
        rows=lambda until: Intake.objects.filter(booking__ends_at__lte=until),
    ),
    Kind(
        code="applications",
        model="bookings.WaitingPlace",
        title="Pieces and recordings of those who waited for a place",
        since="the meeting",
        setting="APPLICATION_DAYS",
        began="meeting__ends_at",
        rows=lambda until: WaitingPlace.objects.filter(meeting__ends_at__lte=until).exclude(
            piece="", recording=""
        ),
        empties=("piece", "recording"),
    ),
    Kind(
        code="rooms",
        model="bookings.Meeting",
        title="Addresses of online rooms",
        since="the meeting",
        setting="ROOM_ADDRESS_DAYS",
        began="ends_at",
        rows=lambda until: Meeting.objects.filter(ends_at__lte=until).exclude(join_address=""),
        empties=("join_address",),
    ),
    Kind(
        code="called-off",
        model="bookings.Meeting",
        title="Reasons why meetings were called off",
        since="the meeting",
        setting="MEETING_WORDS_DAYS",
        began="ends_at",
        rows=lambda until: Meeting.objects.filter(ends_at__lte=until).exclude(called_off_why=""),
        empties=("called_off_why",),
    ),
    Kind(
        code="cover-questions",
        model="bookings.CoverQuestion",
        title="Questions to substitutes",
        since="the lesson",
        setting="PLAN_DAYS",
        began="starts_at",
        rows=lambda until: CoverQuestion.objects.filter(starts_at__lte=until),
    ),
    Kind(
        code="exchanges",
        model="bookings.Exchange",
        title="Exchanges of weekly places, as families were asked",
        since="their end",
        setting="PLAN_DAYS",
        began="ended_at",
        rows=lambda until: Exchange.objects.filter(ended_at__lte=until),
    ),
    Kind(
        code="plans",
        model="bookings.Plan",
        title="Plans: what was asked, and what was proposed",
        since="the day they were asked for",
        setting="PLAN_DAYS",
        began="made_at",
        rows=lambda until: Plan.objects.filter(
            ~Q(state=PlanState.SOLVING),
            made_at__lte=until,
            questions__isnull=True,
            exchanges__isnull=True,
        ),
    ),
)
