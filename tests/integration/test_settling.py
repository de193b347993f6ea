"""A guardian who goes, or takes a consent back: what a child has ahead is named, or ended in the
same step.
"""

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Guardianship, Welcome
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Feed, Meeting, OutboxMessage, guards
from bookings.operations import consents, guardians, invitations
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import feed_bytes, state_of
from bookings.queries.consents import has_consent
from tests import cast
from tests.cast import NOW, at
from tests.school.leaving import WHY, School, is_settled, live

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


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
    """With a sentence all of it ends in the same step; the guardian who goes is told of each, and
    the instructor too.
    """
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
    heddas, _ = open_feed(actor=school.hedda, label="Phone", names_children=True, now=NOW)
    others, _ = open_feed(actor=other, label="Phone", names_children=True, now=NOW)
    before = state_of(heddas, now=NOW)
    assert b"Posy" in feed_bytes(heddas, now=NOW)
    row = school.posy.guardianships.get(guardian=school.hedda)
    school.do(guardians.remove_guardian, guardianship=row)
    heddas, others = Feed.objects.get(pk=heddas.pk), Feed.objects.get(pk=others.pk)
    assert state_of(heddas, now=NOW) != before
    assert b"Posy" not in feed_bytes(heddas, now=NOW)
    assert b"Posy" in feed_bytes(others, now=NOW)


def test_removing_a_guardian_voids_open_forms_and_is_on_record(school):
    """A consent form and an invitation in the mailbox open nothing; ids are kept, no name is."""
    posy = cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell"), consent=False)
    row = posy.guardianships.get()
    consents.ask_for_consent(student_id=posy.pk, now=NOW)
    secret = OutboxMessage.objects.get(kind="consent").body.split("/consent/")[1].split("/")[0]
    invitations.invite(
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
    assert has_consent(school.posy, now=NOW)
    withdraw(school, row, end_bookings=True)
    is_settled(school, school.posy)
    assert not has_consent(school.posy, now=NOW)
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
