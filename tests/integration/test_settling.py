"""Whoever leaves: what they have ahead is named, or ended in the same step, and what the database keeps agrees."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Guardianship, Welcome
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, Standing
from bookings.door import write
from bookings.models import AuditRow, Booking, Feed, Meeting, OutboxMessage, WaitingPlace, guards
from bookings.operations import closing, consents, guardians, people
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import feed_bytes, state_of
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW, at
from tests.weekly_school import weekly_place

pytestmark = pytest.mark.django_db
WHY = "Posy’s family is moving away."


class School:
    """Posy and Noor each have a lesson, a weekly place, a place in a class, an offer and a place on a waiting list."""

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.lesson = cast.make_offering()
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
        cast.teaches(self.ilse, self.lesson, self.group)
        self.hedda = cast.make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
        self.posy = cast.make_minor(guardian=self.hedda)
        self.noor = cast.make_student()
        self.marlo = cast.make_student("Marlo Vance")

    def fill(self, student) -> None:
        """One of everything ahead, and a lesson that has been."""
        cast.make_booking(self.meeting(self.lesson, "2027-02-09T10:00Z"), student)
        cast.make_booking(self.meeting(self.lesson, "2027-03-09T10:00Z"), student)
        weekly_place(self.ilse, student)
        full = self.meeting(self.group, "2027-03-10T10:00Z", places=1)
        cast.make_booking(full, student)
        full.waiting.create(student=self.marlo, place_kind="player", joined_at=NOW)
        other = self.meeting(self.group, "2027-03-11T10:00Z", places=1)
        waiting = other.waiting.create(student=student, place_kind="player", joined_at=NOW)
        cast.make_booking(
            other,
            student,
            standing=Standing.OFFERED,
            answer_by=NOW + timedelta(hours=20),
            waiting_place=waiting,
        )
        wanted = self.meeting(self.group, "2027-03-12T10:00Z", places=1)
        cast.make_booking(wanted, self.marlo)
        wanted.waiting.create(student=student, place_kind="player", joined_at=NOW)

    def meeting(self, offering, starts_at, **fields) -> Meeting:
        return cast.make_meeting(offering, self.ilse, at(starts_at), **fields)

    def do(self, act, **what):
        return write(lambda: act(actor=self.dag, now=NOW, **what), now=NOW)

    def refused(self, code, act, **what) -> Refused:
        before = AuditRow.objects.count(), OutboxMessage.objects.count(), live()
        with pytest.raises(Refused) as caught:
            self.do(act, **what)
        assert caught.value.code == code, caught.value
        assert (AuditRow.objects.count(), OutboxMessage.objects.count(), live()) == before
        return caught.value


def live(student=None) -> tuple[int, int]:
    """How many bookings ahead and waiting places there are."""
    bookings = Booking.objects.filter(standing__in=["HELD", "OFFERED"], starts_at__gt=NOW)
    waiting = WaitingPlace.objects.filter(ended_at__isnull=True)
    if student is not None:
        bookings, waiting = bookings.filter(student=student), waiting.filter(student=student)
    return bookings.count(), waiting.count()


@pytest.fixture
def school() -> School:
    return School()


def is_settled(school: School, student) -> None:
    """Nothing is left ahead, what was free went to who waited, and every counter is right."""
    assert live(student) == (0, 0)
    assert not student.weekly_places.filter(ended_at__isnull=True).exists()
    assert Booking.objects.get(student=student, starts_at__lt=NOW).standing == Standing.HELD
    assert Booking.objects.filter(student=school.marlo, standing=Standing.OFFERED).count() == 1
    assert list(findings()) == []


def test_a_guardian_is_not_removed_over_what_a_child_has_ahead(school):
    """Everything that stands in the way is named, and nothing is written."""
    school.fill(school.posy)
    row = school.posy.guardianships.get()
    refusal = school.refused("has-bookings", guardians.remove_guardian, guardianship=row)
    assert [one["standing"] for one in refusal.data["bookings"]] == [
        "HELD",
        "HELD",
        "HELD",
        "OFFERED",
    ]
    assert len(refusal.data["waiting"]) == len(refusal.data["weekly_places"]) == 1
    assert "10:00 on" not in refusal.detail  # the child's clock is Sydney's, 21:00
    assert "Consultation, 21:00 on Tuesday 9 March 2027 (Sydney)" in refusal.detail


def test_the_last_guardian_takes_what_a_child_has_ahead_along(school):
    """With a sentence all of it ends in the same step; the guardian who goes is told of each, and the instructor too."""
    school.fill(school.posy)
    row = school.posy.guardianships.get()
    ended = school.do(guardians.remove_guardian, guardianship=row, why=WHY)
    assert (len(ended.bookings), len(ended.waiting), len(ended.weekly)) == (4, 1, 1)
    is_settled(school, school.posy)
    assert not Guardianship.objects.exists()
    called_off = Meeting.objects.get(offering=school.lesson, starts_at=at("2027-03-09T10:00Z"))
    assert called_off.called_off_why == WHY
    said = OutboxMessage.objects.filter(body__contains=WHY).values_list(
        "recipient__name", flat=True
    )
    assert {"Hedda Lindqvist-Reed", "Ilse Quarrow"} <= set(said)


def test_a_lesson_that_the_school_ends_is_never_charged(school):
    """Also inside the notice: it is called off, not cancelled late."""
    booking = cast.make_booking(school.meeting(school.lesson, "2027-03-01T10:00Z"), school.posy)
    school.do(guardians.remove_guardian, guardianship=school.posy.guardianships.get(), why=WHY)
    booking.refresh_from_db()
    assert booking.ended_why == "called-off"


def test_another_guardian_who_has_consented_keeps_everything(school):
    """Nothing stands in the way then."""
    school.fill(school.posy)
    first = school.posy.guardianships.get()
    other = cast.make_user("Orsola Reed", "Australia/Sydney")
    Guardianship.objects.create(
        guardian=other, student=school.posy, consent_at=NOW, consent_wording="2026-11"
    )
    before = live(school.posy)
    school.do(guardians.remove_guardian, guardianship=first)
    assert live(school.posy) == before
    assert school.posy.guardianships.get().guardian == other


def test_a_removed_guardian_s_calendar_shows_the_child_no_more_at_once(school):
    """The kept bytes of the feed were served for a day; another guardian's feed goes on."""
    cast.make_booking(school.meeting(school.lesson, "2027-03-09T10:00Z"), school.posy)
    other = cast.make_user("Orsola Reed", "Australia/Sydney")
    Guardianship.objects.create(
        guardian=other, student=school.posy, consent_at=NOW, consent_wording="2026-11"
    )
    hers, _ = open_feed(actor=school.hedda, label="Phone", names_children=True, now=NOW)
    others, _ = open_feed(actor=other, label="Phone", names_children=True, now=NOW)
    before = state_of(hers, now=NOW)
    assert b"Posy" in feed_bytes(hers, now=NOW)
    row = school.posy.guardianships.get(guardian=school.hedda)
    school.do(guardians.remove_guardian, guardianship=row)
    hers, others = Feed.objects.get(pk=hers.pk), Feed.objects.get(pk=others.pk)
    assert state_of(hers, now=NOW) != before
    assert b"Posy" not in feed_bytes(hers, now=NOW)
    assert b"Posy" in feed_bytes(others, now=NOW)


def test_removing_a_guardian_voids_open_forms_and_is_on_record(school):
    """A consent form and an invitation in the mailbox open nothing; both ids are kept, no name is."""
    posy = cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell"), consent=False)
    row = posy.guardianships.get()
    consents.ask_for_consent(student_id=posy.pk, now=NOW)
    secret = OutboxMessage.objects.get(kind="consent").body.split("/consent/")[1].split("/")[0]
    people.invite(
        actor=school.dag, email=row.guardian.email, name="Ines", guardian_of=posy, now=NOW
    )
    school.do(guardians.remove_guardian, guardianship=row)
    with pytest.raises(Refused):
        consents.give_consent(secret=secret, wording="2026-11", now=NOW)
    assert not Welcome.objects.filter(good_until__gt=NOW).exists()
    assert not OutboxMessage.objects.filter(state="due", kind__in=["consent", "welcome"]).exists()
    rows = AuditRow.objects.filter(verb__contains="guardian").order_by("pk")
    assert list(rows.values_list("actor", "verb", "thing", "thing_id")) == [
        (school.dag.pk, "removed guardian", "student", posy.pk),
        (school.dag.pk, "made no guardian", "user", row.guardian_id),
    ]


@pytest.mark.parametrize("moved", ["guardian", "student"])
def test_a_consent_never_becomes_another_person_s(school, moved):
    """Typed past every operation: the database refuses, and says so in the rules' language."""
    row = school.posy.guardianships.get()
    other = {"guardian": cast.make_user("Otto Reed"), "student": school.noor}[moved]
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        Guardianship.objects.filter(pk=row.pk).update(**{moved: other})
    refusal = guards.as_refusal(caught.value)
    assert refusal is not None
    assert refusal.code == "not-allowed"
    row.consent_digest = "0" * 64
    row.save()


def withdraw(school, row, **more):
    act = guardians.withdraw_consent
    return write(lambda: act(actor=row.guardian, guardianship=row, now=NOW, **more), now=NOW)


def test_consent_taken_back_names_what_ends_and_ends_it(school):
    """Refused first with the list; then a minor's lessons end, and the consent is off the file."""
    school.fill(school.posy)
    row = school.posy.guardianships.get()
    with pytest.raises(Refused) as caught:
        withdraw(school, row)
    assert (caught.value.code, len(caught.value.data["bookings"])) == ("has-bookings", 4)
    assert consents.has_consent(school.posy, now=NOW)
    withdraw(school, row, end_bookings=True)
    is_settled(school, school.posy)
    assert not consents.has_consent(school.posy, now=NOW)
    assert OutboxMessage.objects.filter(kind="account", recipient=school.hedda).count() == 1


def test_consent_taken_back_beside_another_one_ends_nothing(school):
    """The other guardian's consent carries the lessons; both are told."""
    school.fill(school.posy)
    row = school.posy.guardianships.get()
    other = cast.make_user("Orsola Reed")
    Guardianship.objects.create(
        guardian=other, student=school.posy, consent_at=NOW, consent_wording="2026-11"
    )
    before = live(school.posy)
    withdraw(school, row)
    assert live(school.posy) == before
    told = OutboxMessage.objects.filter(kind="account", body__contains="lessons go on")
    assert {message.recipient for message in told} == {school.hedda, other}


def test_a_consent_is_taken_back_once_and_by_its_guardian(school):
    """Neither an admin nor another guardian does it for them."""
    row = school.posy.guardianships.get()
    school.refused("not-allowed", guardians.withdraw_consent, guardianship=row)
    withdraw(school, row)
    with pytest.raises(Refused) as caught:
        withdraw(school, row)
    assert caught.value.code == "already-ended"


def test_a_student_s_account_is_closed_with_all_they_have_ahead(school):
    """Named first; then settled, signed out, and nothing is booked for them any more."""
    school.fill(school.noor)
    user = school.noor.user
    school.refused("has-bookings", closing.close_account, user=user)
    school.do(closing.close_account, user=user, why="Noor has finished the course.")
    is_settled(school, school.noor)
    user.refresh_from_db()
    school.noor.refresh_from_db()
    assert (user.is_active, school.noor.is_active) == (False, False)
    with pytest.raises(Refused) as caught:
        consents.check_consent(school.noor, now=NOW)
    assert caught.value.code == "already-ended"


def test_a_guardian_s_account_takes_the_child_s_lessons_along(school):
    """The only one who answers for Posy; Posy stays on the list of students."""
    school.fill(school.posy)
    school.refused("has-bookings", closing.close_account, user=school.hedda)
    school.do(closing.close_account, user=school.hedda, why=WHY)
    is_settled(school, school.posy)
    school.posy.refresh_from_db()
    assert school.posy.is_active


def test_a_teacher_s_account_takes_their_meetings_along(school):
    """Dismissed and closed in one step."""
    school.fill(school.noor)
    school.refused("has-bookings", closing.close_account, user=school.ilse.user)
    school.do(closing.close_account, user=school.ilse.user, why="Ilse moves on.")
    school.ilse.refresh_from_db()
    school.ilse.user.refresh_from_db()
    assert (school.ilse.is_active, school.ilse.user.is_active) == (False, False)
    assert not Meeting.objects.exclude(status="CANCELLED").filter(starts_at__gt=NOW).exists()
    assert list(findings()) == []


def test_an_admin_s_account_is_closed_with_the_role_and_never_the_last_one(school):
    """Opened again, the person is no admin."""
    school.refused("last-admin", closing.close_account, user=school.dag)
    other = cast.make_admin("Una Marsh")
    school.do(closing.close_account, user=other)
    other.refresh_from_db()
    assert (other.is_active, other.is_staff, other.is_superuser) == (False, False, False)
    school.do(closing.reopen_account, user=other)
    other.refresh_from_db()
    assert (other.is_active, other.is_staff) == (True, False)


def test_a_closed_account_is_told_so_and_comes_in_by_no_invitation(school):
    """The email leaves although nobody signs in with the account; an open invitation is void."""
    people.invite(
        actor=school.dag, email=school.noor.user.email, name="Noor", as_admin=True, now=NOW
    )
    school.do(closing.close_account, user=school.noor.user)
    assert not Welcome.objects.filter(good_until__gt=NOW).exists()
    outbox.drain(lambda: NOW)
    assert OutboxMessage.objects.get(kind="account").state == "sent"


def test_an_account_opened_again_brings_the_student_back(school):
    """What ended stays ended."""
    school.fill(school.noor)
    school.do(closing.close_account, user=school.noor.user, why="A year abroad.")
    school.do(closing.reopen_account, user=school.noor.user)
    school.noor.refresh_from_db()
    assert school.noor.is_active
    assert live(school.noor) == (0, 0)
    consents.check_consent(school.noor, now=NOW)


def test_a_child_without_an_account_leaves_and_comes_back(school):
    """The guardian's account stays, for there may be a brother."""
    school.fill(school.posy)
    school.refused("has-bookings", closing.leave_school, student=school.posy)
    school.do(closing.leave_school, student=school.posy, why=WHY)
    is_settled(school, school.posy)
    school.refused("already-ended", closing.leave_school, student=school.posy)
    school.do(closing.return_to_school, student=school.posy)
    school.posy.refresh_from_db()
    assert school.posy.is_active
