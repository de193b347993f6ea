"""The tables.

Every constraint has a name. A broken one becomes the refusal of the rule that it guards (guards/).
"""

from bookings.models.assessments import Assessment, AssessmentReading, PracticeTick
from bookings.models.audit import AuditRow, KeptAnswer
from bookings.models.busy import BusyCalendar, BusyPeriod
from bookings.models.consents import ConsentText
from bookings.models.feeds import Feed
from bookings.models.hours import DaysAway, ExtraHours, LoadAllowance, TeachingHours, TeachingWeek
from bookings.models.intakes import Intake
from bookings.models.meetings import Meeting, MeetingQuerySet
from bookings.models.offerings import ONE_ON_ONE, Offering, StudioPolicy, Teaches, Technique
from bookings.models.outbox import OutboxMessage, OutboxQuerySet, SentSequence
from bookings.models.places import (
    LIVE,
    Booking,
    BookingQuerySet,
    WaitingPlace,
    WaitingPlaceQuerySet,
)
from bookings.models.proposed_times import ProposedTimes, ProposedTimesQuerySet
from bookings.models.register import Mark
from bookings.models.replies import IgnoredMail, LastAnswer, MoveRequest, MoveRequestQuerySet
from bookings.models.terms import Term, TermBreak, WeeklyPlace, WeeklyPlaceQuerySet
from bookings.models.zone_rules import KeptZoneRules

__all__ = [
    "LIVE",
    "ONE_ON_ONE",
    "Assessment",
    "AssessmentReading",
    "AuditRow",
    "Booking",
    "BookingQuerySet",
    "BusyCalendar",
    "BusyPeriod",
    "ConsentText",
    "DaysAway",
    "ExtraHours",
    "Feed",
    "IgnoredMail",
    "Intake",
    "KeptAnswer",
    "KeptZoneRules",
    "LastAnswer",
    "LoadAllowance",
    "Mark",
    "Meeting",
    "MeetingQuerySet",
    "MoveRequest",
    "MoveRequestQuerySet",
    "Offering",
    "OutboxMessage",
    "OutboxQuerySet",
    "PracticeTick",
    "ProposedTimes",
    "ProposedTimesQuerySet",
    "SentSequence",
    "StudioPolicy",
    "Teaches",
    "TeachingHours",
    "TeachingWeek",
    "Technique",
    "Term",
    "TermBreak",
    "WaitingPlace",
    "WaitingPlaceQuerySet",
    "WeeklyPlace",
    "WeeklyPlaceQuerySet",
]
