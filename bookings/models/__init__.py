"""The tables.

Every constraint has a name. A broken one becomes the refusal of the rule that it guards (guards/).
"""

from bookings.models.assessments import (
    Assessment,
    AssessmentQuerySet,
    AssessmentReading,
    PracticeTick,
)
from bookings.models.audit import AuditReason, AuditRow, KeptAnswer
from bookings.models.busy import BusyCalendar, BusyPeriod
from bookings.models.consents import ConsentText
from bookings.models.cover_questions import CoverQuestion, CoverQuestionQuerySet
from bookings.models.data_readings import DataReading
from bookings.models.email_troubles import EmailTrouble
from bookings.models.exchanges import (
    Exchange,
    ExchangeMove,
    PlaceWish,
    WishOrder,
)
from bookings.models.feeds import Feed
from bookings.models.hours import DaysAway, ExtraHours, LoadAllowance, TeachingHours, TeachingWeek
from bookings.models.intakes import Intake
from bookings.models.meetings import Meeting, MeetingQuerySet
from bookings.models.offerings import (
    ONE_ON_ONE,
    Offering,
    StudioPolicy,
    Teaches,
    TeachesQuerySet,
    Technique,
)
from bookings.models.outbox import OutboxMessage, OutboxQuerySet, SentSequence
from bookings.models.owed import OwedLesson, OwedLessonQuerySet
from bookings.models.people_files import PeopleFile
from bookings.models.places import (
    LIVE,
    Booking,
    BookingQuerySet,
)
from bookings.models.plans import AskedHours, CarriedBurden, Plan, PlanQuerySet
from bookings.models.privacy import PrivacyRequest
from bookings.models.proposed_times import ProposedTimes, ProposedTimesQuerySet
from bookings.models.register import Mark, RegisterEntry
from bookings.models.replies import IgnoredMail, LastAnswer, MoveRequest, MoveRequestQuerySet
from bookings.models.retention import RetentionRun
from bookings.models.service_tokens import ServiceToken
from bookings.models.statements import (
    Statement,
    StatementCorrection,
    StatementLine,
    StatementQuerySet,
)
from bookings.models.student_hours import StudentHours, StudentWeek
from bookings.models.terms import Term, TermBreak, WeeklyPlace, WeeklyPlaceQuerySet
from bookings.models.waiting_places import WaitingPlace, WaitingPlaceQuerySet
from bookings.models.webhooks import Webhook, WebhookAttempt
from bookings.models.zone_rules import KeptZoneRules

__all__ = [
    "LIVE",
    "ONE_ON_ONE",
    "AskedHours",
    "Assessment",
    "AssessmentQuerySet",
    "AssessmentReading",
    "AuditReason",
    "AuditRow",
    "Booking",
    "BookingQuerySet",
    "BusyCalendar",
    "BusyPeriod",
    "CarriedBurden",
    "ConsentText",
    "CoverQuestion",
    "CoverQuestionQuerySet",
    "DataReading",
    "DaysAway",
    "EmailTrouble",
    "Exchange",
    "ExchangeMove",
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
    "OwedLesson",
    "OwedLessonQuerySet",
    "PeopleFile",
    "PlaceWish",
    "Plan",
    "PlanQuerySet",
    "PracticeTick",
    "PrivacyRequest",
    "ProposedTimes",
    "ProposedTimesQuerySet",
    "RegisterEntry",
    "RetentionRun",
    "SentSequence",
    "ServiceToken",
    "Statement",
    "StatementCorrection",
    "StatementLine",
    "StatementQuerySet",
    "StudentHours",
    "StudentWeek",
    "StudioPolicy",
    "Teaches",
    "TeachesQuerySet",
    "TeachingHours",
    "TeachingWeek",
    "Technique",
    "Term",
    "TermBreak",
    "WaitingPlace",
    "WaitingPlaceQuerySet",
    "Webhook",
    "WebhookAttempt",
    "WeeklyPlace",
    "WeeklyPlaceQuerySet",
    "WishOrder",
]
