"""The tables.

Every constraint has a name. A broken one becomes the refusal of the rule that it guards (guards/).
"""

from bookings.models.assessments import Assessment, AssessmentReading
from bookings.models.audit import AuditRow, KeptAnswer
from bookings.models.busy import BusyCalendar, BusyPeriod
from bookings.models.consents import ConsentText
from bookings.models.feeds import Feed
from bookings.models.hours import DaysAway, ExtraHours, LoadAllowance, TeachingHours, TeachingWeek
from bookings.models.meetings import Meeting, MeetingQuerySet
from bookings.models.offerings import ONE_ON_ONE, Offering, StudioPolicy, Teaches
from bookings.models.outbox import OutboxMessage, OutboxQuerySet, SentSequence
from bookings.models.places import (
    LIVE,
    Booking,
    BookingQuerySet,
    Intake,
    Mark,
    WaitingPlace,
    WaitingPlaceQuerySet,
)
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
    "SentSequence",
    "StudioPolicy",
    "Teaches",
    "TeachingHours",
    "TeachingWeek",
    "Term",
    "TermBreak",
    "WaitingPlace",
    "WaitingPlaceQuerySet",
    "WeeklyPlace",
    "WeeklyPlaceQuerySet",
]
