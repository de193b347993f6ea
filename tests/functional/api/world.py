"""A school that has one of everything, for whoever asks for it."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import count
from typing import Any

from accounts.models import Guardianship, Student, User, Welcome
from bookings.domain.vocabulary import PlaceKind, PrivacyKind, Standing
from bookings.models import (
    Assessment,
    Booking,
    BusyCalendar,
    CoverQuestion,
    DaysAway,
    ExchangeMove,
    ExtraHours,
    Feed,
    Meeting,
    MoveRequest,
    OwedLesson,
    Plan,
    Statement,
    Term,
    WaitingPlace,
    WeeklyPlace,
)
from tests import cast
from tests.cast import NOW
from tests.functional.api.school import FRIDAY, School
from tests.school.covering import cover_plan, cover_question
from tests.school.exchanges import open_exchange
from tests.school.owed import owed_from_before
from tests.school.plans import answered_plan, plan_row
from tests.school.proposals import proposed_time
from tests.school.statements import statement_of
from tests.school.weekly import weekly_place

CANARY = "canary-9c1f"
PLANNED = "Study planned-5b2e"
"""The practice plan of the released note: for the family and those who may read the note."""
BAR = "The court has decided so: canary-77d2"
"""Why a guardian is barred: for admins."""
number = count(1)


@dataclass(frozen=True, slots=True)
class World:
    """One of everything, all of it the learner's and Ilse's; Posy waits, Marlo and Wren have
    nothing to do with it.

    `owner` is who acts for the learner. Noor, the usual one, is of age and has an account: Orsola
    answered for them once.
    """

    school: School
    learner: Student
    owner: User
    orsola: User
    removed: User
    barred: User
    booking: Booking
    meeting: Meeting
    off: Meeting
    uncertain: Meeting
    """One with a minimum to run that nobody has booked yet."""
    place: Booking
    played: Booking
    """The learner's place as a player in a masterclass."""
    waiting: WaitingPlace
    offer: Booking
    proposed: Booking
    extra: ExtraHours
    away: DaysAway
    draft: Assessment
    released: Assessment
    ask: MoveRequest
    feed: Feed
    weekly: WeeklyPlace
    learners: BusyCalendar
    childs: BusyCalendar
    teachers: BusyCalendar
    invited: Welcome
    solving: Plan
    plan: Plan
    covering: Plan
    question: CoverQuestion
    exchange: ExchangeMove
    owed: OwedLesson
    next_term: Term
    statement: Statement
    """One with a line that a correction would take back."""
    second: Guardianship
    """Another guardian of Posy's, without a consent: the last one cannot be barred."""

    def people(self) -> dict[str, User | None]:
        return {
            "nobody": None,
            "owner": self.owner,
            "stranger": self.school.marlo.user,
            "guardian": self.school.hedda,
            "teacher": self.school.ilse.user,
            "foreign instructor": self.school.wren.user,
            "admin": self.school.dag,
            "guardian of a grown child": self.orsola,
            "removed guardian": self.removed,
            "barred guardian": self.barred,
        }


def data_asked_about(learner: Student, owner: User) -> None:
    """An access export that is approved, and an erasure that waits for an admin."""
    asked = {"asked_by": owner, "asked_at": NOW}
    learner.privacy_requests.create(kind=PrivacyKind.ACCESS, approved_at=NOW, **asked)
    learner.privacy_requests.create(kind=PrivacyKind.ERASURE, **asked)


def make_world(school: School, *, has_account: bool = True) -> World:
    """One of everything. The learner is of age: Noor, or Lark, who has no account yet and a
    guardian who acts.
    """
    orsola = cast.make_user("Orsola Reed")
    removed, barred = cast.make_user("Hester Vale"), cast.make_user("Bram Reed")
    if has_account:
        learner, owner = school.noor, cast.user_of(school.noor)
        learner.adult_on = NOW.date() - timedelta(days=28)
        learner.save()
        learner.guardianships.create(guardian=orsola)
    else:
        learner = cast.make_minor(
            "Lark Reed", "America/New_York", guardian=orsola, level=4, adult_on=NOW.date()
        )
        owner = orsola
    learner.guardianships.create(guardian=removed).delete()
    learner.guardianships.create(
        guardian=barred,
        consent_at=NOW,
        consent_wording="2026-11",
        barred_at=NOW,
        barred_by=school.dag,
        barred_why=BAR,
    )
    own = {"owner": owner} if has_account else {"student": learner}
    one_on_one = cast.make_meeting(school.consultation, school.ilse, FRIDAY)
    meeting = school.class_on(places=2)
    booking = cast.make_booking(one_on_one, learner, decline_by=NOW + timedelta(hours=20))
    other = school.class_on(places=1, starts_at=FRIDAY + timedelta(days=9))
    draft = cast.make_assessment(learner, school.ilse, obstacle="Draft")
    draft.private_remarks = f"{CANARY} draft"
    draft.save()
    weekly = weekly_place(school.ilse, learner)
    data_asked_about(learner, owner)
    return World(
        school=school,
        learner=learner,
        owner=owner,
        orsola=orsola,
        removed=removed,
        barred=barred,
        booking=booking,
        meeting=meeting,
        off=school.class_on(starts_at=FRIDAY + timedelta(days=12), status="CANCELLED"),
        uncertain=school.class_on(
            starts_at=FRIDAY + timedelta(days=13),
            status="TENTATIVE",
            minimum=2,
            decide_by=FRIDAY + timedelta(days=11),
        ),
        place=cast.make_booking(meeting, learner),
        played=cast.make_booking(
            cast.make_meeting(
                school.masterclass, school.ilse, FRIDAY + timedelta(days=6), places=4
            ),
            learner,
        ),
        waiting=meeting.waiting.create(
            student=learner, place_kind=PlaceKind.LISTENER, joined_at=NOW, is_next=True
        ),
        offer=cast.make_booking(
            other, learner, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=20)
        ),
        proposed=proposed_time(school.ilse, learner, school.consultation),
        extra=school.ilse.extra_hours.create(
            on=FRIDAY.date(), opens=0, closes=60, time_zone="Europe/Dublin"
        ),
        away=school.ilse.days_away.create(
            first_on=FRIDAY.date(), last_on=FRIDAY.date(), time_zone="Europe/Dublin"
        ),
        draft=draft,
        released=school.released(
            learner,
            school.ilse,
            remarks=f"{CANARY} released",
            level=5,
            practice=[{"what": PLANNED, "minutes": 20, "is_review": False}],
        ),
        ask=booking.move_requests.create(
            asked_by=owner, starts_at=FRIDAY - timedelta(days=2), asked_at=NOW
        ),
        feed=Feed.objects.create(
            owner=owner,
            label="Phone",
            secret_digest="0" * 64,
            revised_at=NOW,
            opened_at=NOW,
        ),
        weekly=weekly,
        exchange=open_exchange(weekly, school.marlo),
        owed=owed_from_before(weekly),
        next_term=Term.objects.create(
            name="Autumn 2027",
            first_on=date(2027, 9, 6),
            last_on=date(2027, 12, 10),
            lessons_promised=12,
        ),
        statement=statement_of(school.ilse, school.dag, one_on_one),
        learners=busy_calendar(**own),
        childs=busy_calendar(student=school.posy),
        teachers=busy_calendar(owner=school.ilse.user),
        invited=Welcome.objects.create(
            email="robin@marsh.example",
            name="Robin Marsh",
            as_admin=True,
            secret_digest="w" * 64,
            sent_at=NOW,
            good_until=NOW + timedelta(days=14),
        ),
        solving=plan_row(meeting.offering, school.ilse, learner),
        plan=answered_plan(meeting.offering, school.ilse, learner),
        covering=cover_plan(booking, school.wren),
        question=cover_question(booking, school.wren),
        second=school.posy.guardianships.create(guardian=cast.make_user("Tarn Reed")),
    )


def busy_calendar(**whose: Any) -> BusyCalendar:
    """A calendar at a secret address, never fetched."""
    calendar = BusyCalendar(
        name="Orchestra", host="calendar.rowanmere.example", added_at=NOW, next_at=NOW, **whose
    )
    calendar.address = f"https://calendar.rowanmere.example/{CANARY}-address.ics"
    calendar.save()
    return calendar
