"""What needs an admin: for each kind that one query can tell, its rows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import (
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce, NullIf

from accounts.models import Guardianship, Student, User
from accounts.second_factor import people_without_factor
from bookings import outbox
from bookings.domain.local_days import day_period
from bookings.domain.needs import ANSWER_NEAR, DECISION_NEAR, REGISTER_LATE, USE_BY_NEAR, Need
from bookings.domain.vocabulary import PlaceKind, PlanState
from bookings.domain.zones import zone
from bookings.models import (
    ONE_ON_ONE,
    Booking,
    BusyCalendar,
    BusyPeriod,
    CoverQuestion,
    EmailTrouble,
    Exchange,
    Meeting,
    MoveRequest,
    OwedLesson,
    PrivacyRequest,
    ProposedTimes,
    Webhook,
)

NOTHING = Value("")


@dataclass(frozen=True, slots=True)
class Shape:
    """Rows of one kind: which of their columns say what it is about, its name, and when.

    At most one of `at`, an instant, and `on`, a date, is given.
    """

    rows: QuerySet[Any]
    name: Any
    about: Any = NOTHING
    subject: str = "pk"
    at: str = ""
    on: str = ""


def _student(path: str) -> Coalesce:
    """The whole name of a student, which admins read."""
    return Coalesce(f"{path}user__name", f"{path}own_name")


def _meeting(path: str) -> Coalesce:
    """What a meeting is called."""
    return Coalesce(NullIf(f"{path}title", Value("")), f"{path}offering__name")


def _student_or_meeting() -> Coalesce:
    """The student of a one-on-one, else what the meeting is called."""
    alone = Booking.objects.held().filter(
        meeting=OuterRef("pk"), meeting__offering__kind__in=ONE_ON_ONE
    )
    name = alone.order_by("pk").values(whole_name=_student("student__"))[:1]
    return Coalesce(Subquery(name), _meeting(""))


def _consents(reader: User, now: datetime) -> Shape:
    """Minors who hold a place ahead, and for whom nobody who answers has consented."""
    ahead = Booking.objects.held().ahead(now).filter(student=OuterRef("pk"))
    agreed = Guardianship.objects.answering().agreed().filter(student=OuterRef("pk"))
    rows = Student.objects.filter(~Exists(agreed), Exists(ahead), adult_on__gt=now.date())
    first: dict[str, Any] = {
        "first_at": Subquery(ahead.order_by("starts_at").values("starts_at")[:1])
    }
    return Shape(rows.annotate(**first), _student(""), at="first_at")


def _clashes(reader: User, now: datetime) -> Shape:
    """Meetings ahead that clash with another since the zone rules changed, or with the busy time
    that an instructor has imported.
    """
    # All of them at once, as registers are.
    torn = Booking.objects.held().filter(is_flagged=True).order_by().values("meeting")
    rows = Meeting.objects.not_called_off().ahead(now)
    rows = rows.filter(Q(is_flagged=True) | Q(pk__in=torn) | Exists(_busy_meanwhile()))
    return Shape(rows, _student_or_meeting(), F("instructor__user__name"), at="starts_at")


def _busy_meanwhile() -> QuerySet[Any]:
    """The calendars of the instructor of the meeting that another query reads whose busy time
    overlaps it.

    Periods of one calendar never touch: the last to begin before the meeting is over also ends
    last, and an index finds it.
    """
    begun = BusyPeriod.objects.filter(
        calendar=OuterRef("pk"), starts_at__lt=OuterRef(OuterRef("ends_at"))
    )
    ends = Subquery(begun.order_by("-starts_at").values("ends_at")[:1])
    calendars = BusyCalendar.objects.filter(owner=OuterRef("instructor__user"))
    return calendars.annotate(ends=ends).filter(ends__gt=OuterRef("starts_at"))


def _cover(reader: User, now: datetime) -> Shape:
    """Substitutes who have not answered for a lesson ahead that is still booked."""
    held = Booking.objects.held().filter(meeting=OuterRef("meeting"))
    rows = CoverQuestion.objects.unanswered().filter(Exists(held), starts_at__gt=now)
    rows = rows.exclude(plan__state__in=(PlanState.ADOPTED, PlanState.DISCARDED))
    name = F("instructor__user__name")
    return Shape(rows, name, F("meeting__offering__name"), subject="plan_id", at="starts_at")


def _move_requests(reader: User, now: datetime) -> Shape:
    """Requests to move that nobody has answered."""
    about = F("booking__meeting__instructor__user__name")
    rows = MoveRequest.objects.unanswered()
    return Shape(rows, _student("booking__student__"), about, at="asked_at")


def _proposals(reader: User, now: datetime) -> Shape:
    """Open proposals whose time to answer is nearly over."""
    near = {"answer_by__gt": now, "answer_by__lte": now + ANSWER_NEAR}
    rows = ProposedTimes.objects.unanswered().filter(**near)
    return Shape(rows, _student("student__"), F("instructor__user__name"), at="answer_by")


def _exchanges(reader: User, now: datetime) -> Shape:
    """Exchanges that not all families have answered, and whose time is nearly over."""
    near = {"answer_by__gt": now, "answer_by__lte": now + ANSWER_NEAR}
    rows = Exchange.objects.unanswered().filter(**near)
    return Shape(rows, F("term__name"), subject="plan_id", at="answer_by")


def _offers(reader: User, now: datetime) -> Shape:
    """Offered places that lapse today on the admin's clock."""
    clock = zone(reader.zone)
    midnight = day_period(now.astimezone(clock).date(), reader.zone).ends_at
    rows = Booking.objects.offered().filter(answer_by__gt=now, answer_by__lt=midnight)
    about = _meeting("meeting__")
    return Shape(rows, _student("student__"), about, subject="meeting_id", at="answer_by")


def _minimums(reader: User, now: datetime) -> Shape:
    """Meetings that are soon decided and have fewer players than their minimum."""
    players = Booking.objects.held().filter(meeting=OuterRef("pk"), place_kind=PlaceKind.PLAYER)
    count = players.order_by().values("meeting").annotate(count=Count("pk")).values("count")
    held: dict[str, Any] = {
        "players": Coalesce(Subquery(count), Value(0), output_field=IntegerField())
    }
    near = {"decide_by__gt": now, "decide_by__lte": now + DECISION_NEAR}
    rows = Meeting.objects.undecided().ahead(now).filter(**near)
    short = rows.annotate(**held).filter(minimum__gt=F("players"))
    return Shape(short, _meeting(""), F("instructor__user__name"), at="decide_by")


def _registers(reader: User, now: datetime) -> Shape:
    """Meetings over for a day in which somebody is not marked."""
    # All of them at once: asked meeting by meeting, the whole past is looked up.
    late: dict[str, Any] = {"ends_at__lte": now - REGISTER_LATE}
    unmarked = Booking.objects.held().filter(mark__isnull=True, **late)
    rows = Meeting.objects.not_called_off().filter(
        pk__in=unmarked.order_by().values("meeting"), **late
    )
    return Shape(rows, _student_or_meeting(), F("instructor__user__name"), at="starts_at")


def _owed(reader: User, now: datetime) -> Shape:
    """Owed lessons whose use-by date is near. One that is over is closed by its own task."""
    until = (now + USE_BY_NEAR).date()
    rows = OwedLesson.objects.still_owed().filter(use_by__lte=until)
    rows = rows.filter(use_by__gte=(now - timedelta(days=1)).date())
    return Shape(rows, _student("student__"), F("offering__name"), on="use_by")


def _emails(reader: User, now: datetime) -> Shape:
    """Emails that were given up lately, as the page of people shows them."""
    rows = outbox.given_up_lately(now)
    return Shape(rows, F("to_address"), F("kind"), subject="recipient_id", at="due_at")


def _webhooks(reader: User, now: datetime) -> Shape:
    """Webhooks that were stopped because nothing reached them."""
    return Shape(Webhook.objects.stopped(), F("name"), F("paused_why"), at="paused_at")


def _addresses(reader: User, now: datetime) -> Shape:
    """Addresses that cannot be reached, of open accounts and of people who are invited."""
    rows = EmailTrouble.objects.marked().exclude(owner__is_active=False)
    name = Coalesce(F("owner__name"), F("address"))
    return Shape(rows, name, F("why"), at="marked_at")


def _data_requests(reader: User, now: datetime) -> Shape:
    """Requests to erase a student's data or to read all of it that no admin has approved."""
    rows = PrivacyRequest.objects.open().filter(approved_at__isnull=True)
    return Shape(rows, _student("student__"), F("kind"), subject="student_id", at="asked_at")


def _second_factors(reader: User, now: datetime) -> Shape:
    """Instructors and admins who must have a second factor and have none."""
    return Shape(people_without_factor(), F("name"))


KINDS: Mapping[Need, Callable[[User, datetime], Shape]] = {
    Need.CONSENT: _consents,
    Need.CLASH: _clashes,
    Need.COVER: _cover,
    Need.MOVE_REQUEST: _move_requests,
    Need.PROPOSAL: _proposals,
    Need.EXCHANGE: _exchanges,
    Need.OFFER: _offers,
    Need.MINIMUM: _minimums,
    Need.REGISTER: _registers,
    Need.OWED: _owed,
    Need.EMAIL: _emails,
    Need.WEBHOOK: _webhooks,
    Need.ADDRESS: _addresses,
    Need.DATA_REQUEST: _data_requests,
    Need.SECOND_FACTOR: _second_factors,
}
