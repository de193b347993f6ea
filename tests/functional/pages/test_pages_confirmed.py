"""Whatever cannot be taken back is asked once, on a page that changes nothing."""

import pytest

from bookings.domain.vocabulary import PlaceKind
from bookings.models import OutboxMessage, ProposedTimes, WaitingPlace
from tests.cast import NOW
from tests.functional.pages.every_page import counts
from tests.functional.pages.matrix import MATRIX, addresses
from tests.functional.pages.school import School, as_user, text_of
from tests.school.proposals import proposed_time

ASKED_ONCE = {
    "adopt-plan",
    "approve-access",
    "approve-erasure",
    "bar-guardian",
    "call-off",
    "cancel",
    "close-account",
    "close-choice",
    "come-back",
    "decline",
    "discard-plan",
    "dismiss",
    "erase-data",
    "leave-weekly",
    "lift-bar",
    "reinstate",
    "release",
    "remove-busy-calendar",
    "remove-extra-hours",
    "remove-guardian",
    "renew-feed",
    "reset-second-factor",
    "revoke-feed",
    "student-leaves",
    "waiting-list",
    "withdraw-consent",
    "withdraw-invitation",
    "withdraw-times",
}
"""Routes whose GET says what follows and asks; their POST acts."""
ACTS_AT_ONCE = {
    "account-address": "sends a link; the old address counts until it is used",
    "add-extra-hours": "can be removed",
    "admin-role": "can be given and taken again",
    "adopt-hours": "publishes what the page before has shown",
    "adopt-level": "the next note, or an admin, sets another level",
    "answer-cover": "is an answer to a question that the page asks",
    "answer-move-request": "is an answer to a question that the page asks",
    "answer-zone": "can be changed on one's own page",
    "ask-access": "can be taken back",
    "ask-for-proof": "sends a link to one's own address",
    "ask-for-consent": "asks by email, and can be sent again",
    "ask-substitutes": "asks by email; nothing is decided",
    "access-file": "a file to keep",
    "change-roster": "is filled in with a reason first",
    "change-room": "can be changed again",
    "change-waiting-list": "is filled in with a reason first",
    "choose-player": "an admin removes a player with a reason",
    "export-data": "a file to keep",
    "go-away": "shows what becomes of lessons first, where there are any",
    "it-runs": "a meeting that runs can be called off",
    "pause-webhook": "can be resumed",
    "propose-hours": "shows the hours before they are published",
    "refresh-busy-calendar": "reads again",
    "register": "can be corrected",
    "regular-instructor": "can be chosen again",
    "reopen-account": "can be closed again",
    "resume-webhook": "can be paused again",
    "solve-again": "makes another plan, and decides nothing",
    "stop-plan": "keeps the best answer so far, and decides nothing",
    "student-returns": "can leave again",
    "take-back-access": "can be asked for again",
    "take-back-erasure": "can be asked for again",
    "take-place": "can be cancelled",
    "teach-again": "can be dismissed again",
    "test-webhook": "sends one message, and changes nothing",
    "tick-practice": "can be unticked",
    "withdraw-address": "can be asked for again",
}
"""Routes that only a POST reaches, and why they need no question."""


def test_every_act_is_asked_once_or_has_a_reason_not_to_be(school: School) -> None:
    """A new route that acts at once stands in the table above, or asks."""
    dag, places = as_user(school.dag), addresses(school)
    only_post = {name for name, at in places.items() if dag.get(at).status_code == 405}
    assert only_post == set(ACTS_AT_ONCE) & set(places)
    assert set(MATRIX) >= ASKED_ONCE
    assert not ASKED_ONCE & only_post


def test_times_are_taken_back_after_one_question(school: School) -> None:
    """The question names them; only the answer tells the family."""
    proposal = ProposedTimes.objects.get(pk=_proposed(school))
    ilse, address = as_user(school.ilse.user), f"/proposed-times/{proposal.pk}/withdraw/"
    assert f'href="{address}"' in text_of(ilse.get("/proposed-times/"))
    before = counts()
    text = text_of(ilse.get(address))
    assert "Take back the times proposed to Noor Ashgrove?" in text
    assert "Monday 8 March, 10:00" in text
    assert counts() == before
    assert ilse.post(address).status_code == 302
    assert OutboxMessage.objects.exists()
    proposal.refresh_from_db()
    assert proposal.ended_at is not None


@pytest.mark.parametrize("chosen", [True, False])
def test_a_position_in_line_is_left_after_one_question(school: School, chosen: bool) -> None:
    """It cannot be had again: whoever joins again joins at the end."""
    school.circle.players_are_chosen = chosen
    school.circle.save()
    WaitingPlace.objects.create(
        meeting=school.circle,
        student=school.noor,
        place_kind=PlaceKind.PLAYER,
        joined_at=NOW,
    )
    noor, address = as_user(school.noor.user), f"/meetings/{school.circle.pk}/waiting-list/"
    asked = f"{address}?student={school.noor.pk}&amp;as=player"
    assert asked in text_of(noor.get("/meetings/"))
    text = text_of(noor.get(asked.replace("&amp;", "&")))
    assert ("Withdraw from" if chosen else "You lose your position in line.") in text
    assert WaitingPlace.objects.get().ended_at is None
    sent = {"student": school.noor.pk, "as": "player", "then": "leave"}
    for name, value in sent.items():
        assert f'name="{name}" value="{value}"' in text
    assert noor.post(address, sent).status_code == 302
    assert WaitingPlace.objects.get().ended_at == NOW


def _proposed(school: School) -> int:
    found = proposed_time(school.ilse, school.noor, school.consultation)
    assert found.proposed_id is not None
    return found.proposed_id
