"""Needs you now: each kind is counted while it needs an admin, and is gone once it is settled."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.domain.errors import Refused
from bookings.domain.needs import Need
from bookings.domain.vocabulary import Ended, PrivacyKind, Standing
from bookings.models import (
    BusyCalendar,
    Exchange,
    Meeting,
    MoveRequest,
    OutboxMessage,
    PrivacyRequest,
    ProposedTimes,
)
from bookings.outbox import MessageKind
from bookings.queries.needs import needed_of, needs_now
from tests import cast
from tests.cast import NOW
from tests.school.covering import cover_question
from tests.school.desk import Desk, all_needed
from tests.school.exchanges import open_exchange
from tests.school.proposals import proposed_time
from tests.school.weekly import weekly_place

pytestmark = pytest.mark.django_db

SOON = NOW + timedelta(hours=5)
HOUR = timedelta(hours=1)


@pytest.fixture
def desk() -> Desk:
    return Desk()


def test_a_minor_who_is_booked_without_consent(desk: Desk) -> None:
    """Without a place ahead nobody has to hurry; with a guardian's consent nothing is missing."""
    posy = cast.make_minor(guardian=cast.make_user("Hedda Lindqvist-Reed"))
    posy.guardianships.update(consent_at=None, consent_wording="")
    assert desk.now(Need.CONSENT) is None
    cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON), posy)
    cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON + HOUR), desk.noor)
    assert desk.the_one(Need.CONSENT) == (posy.pk, "Posy Lindqvist-Reed")
    posy.guardianships.update(consent_at=NOW, consent_wording="2026-11")
    assert desk.now(Need.CONSENT) is None
    posy.guardianships.update(barred_at=NOW, barred_why="A court order.")
    assert desk.the_one(Need.CONSENT)[0] == posy.pk


def test_a_meeting_that_clashes_with_imported_busy_time(desk: Desk) -> None:
    """Only the busy time of whoever teaches it, and only ahead."""
    meeting = cast.make_meeting(desk.group, desk.ilse, SOON, title="Airs by ear")
    for owner in (desk.ilse.user, desk.noor.user):
        calendar = BusyCalendar.objects.create(owner=owner, name="Orchestra", added_at=NOW)
        calendar.periods.create(starts_at=SOON - HOUR, ends_at=SOON)
    assert desk.now(Need.CLASH) is None
    desk.ilse.user.busy_calendars.get().periods.create(starts_at=SOON, ends_at=SOON + HOUR)
    assert desk.the_one(Need.CLASH) == (meeting.pk, "Airs by ear")
    assert desk.now(Need.CLASH, days=1) is None


def test_a_meeting_that_clashes_since_the_zone_rules_changed(desk: Desk) -> None:
    """The meeting is flagged, or the place of one student in it."""
    booking = cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON), desk.noor)
    booking.is_flagged = True
    booking.save()
    assert desk.the_one(Need.CLASH) == (booking.meeting_id, "Noor Ashgrove")
    booking.is_flagged = False
    booking.save()
    Meeting.objects.update(is_flagged=True)
    assert desk.the_one(Need.CLASH)[0] == booking.meeting_id
    Meeting.objects.update(is_flagged=False)
    assert desk.now(Need.CLASH) is None


def test_a_substitute_who_has_not_answered(desk: Desk) -> None:
    """The way to the act is the plan that asked; once it is discarded, nobody has to answer."""
    wren = cast.make_instructor("Wren Halloway")
    booking = cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON), desk.noor)
    question = cover_question(booking, wren)
    assert desk.the_one(Need.COVER) == (question.plan_id, "Wren Halloway")
    question.plan.state = "DISCARDED"
    question.plan.ended_at = NOW
    question.plan.save()
    assert desk.now(Need.COVER) is None


def test_a_request_to_move_until_it_is_answered(desk: Desk) -> None:
    """By name, whoever teaches the lesson."""
    booking = cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON), desk.noor)
    asked = MoveRequest.objects.create(
        booking=booking, asked_by=desk.noor.user, starts_at=SOON + HOUR, asked_at=NOW
    )
    assert desk.the_one(Need.MOVE_REQUEST) == (asked.pk, "Noor Ashgrove")
    MoveRequest.objects.update(state=MoveRequest.State.REFUSED, answered_at=NOW)
    assert desk.now(Need.MOVE_REQUEST) is None


def test_proposed_times_a_day_before_they_lapse(desk: Desk) -> None:
    """Neither earlier, nor once the time to answer is over."""
    proposal = proposed_time(desk.ilse, desk.noor, desk.lesson).proposed
    assert proposal is not None
    ProposedTimes.objects.update(answer_by=NOW + timedelta(hours=24))
    assert desk.the_one(Need.PROPOSAL) == (proposal.pk, "Noor Ashgrove")
    assert desk.now(Need.PROPOSAL, hours=24) is None
    ProposedTimes.objects.update(answer_by=NOW + timedelta(hours=25))
    assert desk.now(Need.PROPOSAL) is None


def test_an_exchange_a_day_before_it_lapses(desk: Desk) -> None:
    """The plan that made it is the way to the act."""
    move = open_exchange(weekly_place(desk.ilse, desk.noor), cast.make_student("Marlo Vance"))
    assert desk.now(Need.EXCHANGE) is None
    Exchange.objects.update(answer_by=NOW + HOUR)
    assert desk.the_one(Need.EXCHANGE)[0] == move.exchange.plan_id
    Exchange.objects.update(ended_at=NOW, ended_why=Ended.PLACED)
    assert desk.now(Need.EXCHANGE) is None


def test_an_offered_place_that_lapses_today(desk: Desk) -> None:
    """Today ends at midnight on the admin's clock: in Dublin that is midnight UTC in winter."""
    meeting = cast.make_meeting(
        desk.group, desk.ilse, NOW + timedelta(days=9), title="Airs by ear", places=3
    )
    midnight = cast.at("2027-03-02T00:00Z")
    booking = cast.make_booking(
        meeting, desk.noor, standing=Standing.OFFERED, answer_by=midnight - HOUR
    )
    assert desk.the_one(Need.OFFER) == (meeting.pk, "Noor Ashgrove")
    booking.answer_by = midnight
    booking.save()
    assert desk.now(Need.OFFER) is None


def test_a_meeting_below_its_minimum_a_week_before_it_is_decided(desk: Desk) -> None:
    """An offer is no player yet; with enough players, or once it runs, it is gone."""
    meeting = cast.make_meeting(
        desk.group,
        desk.ilse,
        NOW + timedelta(days=10),
        title="Airs by ear",
        places=3,
        status="TENTATIVE",
        minimum=2,
        decide_by=NOW + timedelta(days=7),
    )
    cast.make_booking(meeting, desk.noor)
    offered = cast.make_booking(
        meeting,
        cast.make_student("Marlo Vance"),
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(days=2),
    )
    assert desk.the_one(Need.MINIMUM) == (meeting.pk, "Airs by ear")
    assert desk.now(Need.MINIMUM, days=7) is None
    offered.standing, offered.answer_by = Standing.HELD, None
    offered.save()
    assert desk.now(Need.MINIMUM) is None
    Meeting.objects.update(minimum=3, decide_by=NOW + timedelta(days=8))
    assert desk.now(Need.MINIMUM) is None


def test_an_email_that_was_given_up(desk: Desk) -> None:
    """In words, and for a week; the account has the address."""
    OutboxMessage.objects.create(
        recipient=desk.noor.user,
        kind=MessageKind.REMINDER_DAY,
        subject_key="meeting:1",
        state_key="sequence:0",
        to_address="gone@rowanmere.example",
        title="Tomorrow",
        message_id="one",
        made_at=NOW,
        due_at=NOW,
        state=OutboxMessage.State.GIVEN_UP,
    )
    assert desk.the_one(Need.EMAIL) == (desk.noor.user_id, "gone@rowanmere.example")
    assert desk.now(Need.EMAIL, days=8) is None


def test_a_student_due_a_review_until_a_lesson_is_booked(desk: Desk) -> None:
    """The rule is that of the page of students due a review, which lists them all."""
    found = desk.now(Need.REVIEW)
    assert found is not None
    assert [(row.id, row.about) for row in found.first] == [(desk.noor.pk, "No lesson yet.")]
    cast.make_booking(cast.make_meeting(desk.lesson, desk.ilse, SOON), desk.noor)
    assert desk.now(Need.REVIEW) is None
    with pytest.raises(Refused, match="nothing at this address"):
        needed_of(desk.dag, Need.REVIEW, now=NOW)


def test_a_request_about_data_until_an_admin_approves_it(desk: Desk) -> None:
    """An erasure and an access export wait for an admin; a family is told nothing before."""
    asked = {"student": desk.noor, "asked_by": desk.noor.user, "asked_at": NOW}
    request = PrivacyRequest.objects.create(kind=PrivacyKind.ERASURE, **asked)
    assert desk.the_one(Need.DATA_REQUEST) == (desk.noor.pk, "Noor Ashgrove")
    request.approved_at, request.approved_by = NOW, desk.dag
    request.save()
    assert desk.now(Need.DATA_REQUEST) is None


def test_an_account_without_the_second_factor_it_must_have(desk: Desk, settings: Any) -> None:
    """Instructors and admins, where the school requires it; recovery codes alone are none."""
    assert desk.now(Need.SECOND_FACTOR) is None
    settings.SECOND_FACTOR_REQUIRED = True
    found = desk.now(Need.SECOND_FACTOR)
    assert found is not None
    assert [row.name for row in found.first] == ["Dag Emberley", "Ilse Quarrow"]
    Authenticator.objects.create(user=desk.dag, type="totp", data={})
    Authenticator.objects.create(user=desk.ilse.user, type="recovery_codes", data={})
    assert desk.the_one(Need.SECOND_FACTOR) == (desk.ilse.user_id, "Ilse Quarrow")
    desk.ilse.is_active = False
    desk.ilse.save()
    assert desk.now(Need.SECOND_FACTOR) is None


def test_the_first_three_are_the_most_pressing(desk: Desk) -> None:
    """The count tells how many there are, and the list has them all in the same order."""
    for hours in (5, 3, 4, 2):
        begun = NOW - timedelta(days=2, hours=hours)
        cast.taught(desk.ilse, desk.noor, desk.lesson, begun)
    found = desk.now(Need.REGISTER)
    assert found is not None
    assert found.count == 4
    all_of_them = all_needed(desk.dag, Need.REGISTER)
    assert list(found.first) == all_of_them[:3]
    ages = [(NOW - row.at) - timedelta(days=2) for row in all_of_them if row.at]
    assert ages == [5 * HOUR, 4 * HOUR, 3 * HOUR, 2 * HOUR]


def test_only_an_admin_reads_it_in_a_fixed_number_of_queries(desk: Desk) -> None:
    """At most seven, whatever there is."""
    for reader in (desk.ilse.user, desk.noor.user):
        with pytest.raises(Refused, match="Only an admin"):
            needs_now(reader, now=NOW)  # type: ignore[arg-type]
        with pytest.raises(Refused, match="Only an admin"):
            needed_of(reader, Need.OFFER, now=NOW)  # type: ignore[arg-type]
    cast.taught(desk.ilse, desk.noor, desk.lesson, NOW - timedelta(days=2))
    with CaptureQueriesContext(connection) as seen:
        needs_now(desk.dag, now=NOW)
    assert len(seen) <= 7
