"""The tables. Constraints are named; a broken one becomes the same refusal as the rule it guards (see guards/)."""

from bookings.models.assessments import Assessment, AssessmentReading
from bookings.models.audit import AuditRow, KeptAnswer
from bookings.models.busy import BusyCalendar, BusyPeriod
from bookings.models.consents import ConsentText
from bookings.models.feeds import Feed
from bookings.models.hours import DaysAway, ExtraHours, LoadAllowance, TeachingHours, TeachingWeek
from bookings.models.meetings import Meeting
from bookings.models.offerings import Offering, StudioPolicy, Teaches
from bookings.models.outbox import OutboxMessage, SentSequence
from bookings.models.places import LIVE, Booking, Intake, Mark, WaitingPlace
from bookings.models.replies import IgnoredMail, LastAnswer, MoveRequest
from bookings.models.terms import Term, TermBreak, WeeklyPlace
from bookings.models.zone_rules import KeptZoneRules

__all__ = [
    "LIVE",
    "Assessment",
    "AssessmentReading",
    "AuditRow",
    "Booking",
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
    "MoveRequest",
    "Offering",
    "OutboxMessage",
    "SentSequence",
    "StudioPolicy",
    "Teaches",
    "TeachingHours",
    "TeachingWeek",
    "Term",
    "TermBreak",
    "WaitingPlace",
    "WeeklyPlace",
]
