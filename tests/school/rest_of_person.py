"""One row of each table that an erasure takes and that `PrivateSchool.write_of` leaves out."""

from datetime import timedelta

from allauth.account.models import EmailAddress, EmailConfirmation
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.apps import apps

from accounts.models import Guardianship, Student, User, Welcome
from bookings.models import (
    AssessmentReading,
    BusyCalendar,
    BusyPeriod,
    CarriedBurden,
    EmailTrouble,
    LastAnswer,
    OwedLesson,
    PlaceWish,
    PracticeTick,
    SentSequence,
    WeeklyPlace,
    WishOrder,
)
from tests import cast
from tests.cast import NOW
from tests.school.plans import asking_plan
from tests.school.privacy import PrivateSchool

REST_OF_WORDS = (
    "canary-piece",
    "canary-tape",
    "canary-owed",
    "canary-office",
    "canary-bar",
    "canary-new",
)
"""Words in columns of rows that stay, or that are found by hand."""


def write_rest(school: PrivateSchool, student: Student) -> None:
    """After `school.write_of(student)`."""
    owner = student.user or school.hedda
    _sign_in(owner)
    Welcome.objects.create(
        email=owner.email,
        name=owner.name,
        student=student,
        secret_digest="w" * 64,
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    _guardian(school, student)
    student.waiting.update(piece="canary-piece", recording="canary-tape")
    place = _wishes(school, student)
    CarriedBurden.objects.create(student=student, term=place.term, burden=2)
    OwedLesson.objects.create(
        student=student,
        term=place.term,
        offering=school.lesson,
        minutes=30,
        cause="carried-in",
        reason="canary-owed",
        use_by="2027-06-01",
        owed_at=NOW,
    )
    _of_notes_and_calendars(school, student, owner)
    _addresses(owner)
    asking_plan(school.lesson, school.ilse, student)


def _wishes(school: PrivateSchool, student: Student) -> WeeklyPlace:
    """The student's weekly place, with the time that they would rather have."""
    place = WeeklyPlace.objects.filter(student=student).first()
    assert place is not None
    wished = WeeklyPlace.objects.create(
        term=place.term,
        student=school.marlo,
        instructor=school.ilse,
        offering=place.offering,
        weekday=place.weekday,
        wall_at=place.wall_at + 60,
        promised=0,
        time_zone=place.time_zone,
        policy=place.policy,
        made_at=NOW,
    )
    order = WishOrder.objects.create(place=place, version=1, changed_at=NOW)
    PlaceWish.objects.create(order=order, wished=wished, rank=1)
    return place


def _sign_in(owner: User) -> None:
    address = EmailAddress.objects.create(user=owner, email=owner.email)
    EmailConfirmation.objects.create(email_address=address, key="k" * 40)
    TOTP.activate(owner, generate_totp_secret())
    apps.get_model("knox", "AuthToken").objects.create(owner)
    apps.get_model("admin", "LogEntry").objects.create(
        user=owner, action_flag=2, object_repr="canary-office"
    )


def _addresses(owner: User) -> None:
    """A new address that is asked for, and trouble with the one that counts."""
    owner.address_changes.create(
        email="canary-new@marsh.example",
        secret_digest="a" * 64,
        asked_at=NOW,
        good_until=NOW + timedelta(days=7),
    )
    EmailTrouble.objects.create(address=owner.email, owner=owner, last_on=NOW.date())


def _guardian(school: PrivateSchool, student: Student) -> None:
    """A barred guardian, so that the school's words about them are there too."""
    barred = {"barred_at": NOW, "barred_by": school.dag, "barred_why": "canary-bar"}
    other = cast.make_user("Orsola Vey")
    Guardianship.objects.create(guardian=other, student=student, **barred)


def _of_notes_and_calendars(school: PrivateSchool, student: Student, owner: User) -> None:
    note = student.assessments.first()
    assert note is not None
    AssessmentReading.objects.create(
        assessment=note, reader=school.ilse.user, relation="author", read_at=NOW
    )
    PracticeTick.objects.create(assessment=note, item=0, on=NOW.date(), ticked_at=NOW)
    calendar = BusyCalendar.objects.get(name="canary-busy")
    BusyPeriod.objects.create(calendar=calendar, starts_at=NOW, ends_at=NOW + timedelta(minutes=30))
    booking = student.bookings.first()
    assert booking is not None
    sent = {"meeting": booking.meeting, "recipient": owner}
    SentSequence.objects.create(**sent, sequence=1)
    LastAnswer.objects.create(**sent, hour_began=NOW)
