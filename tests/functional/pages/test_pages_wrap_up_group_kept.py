"""Wrap up a group: two tabs, an ended session, a list that changes meanwhile; nothing is lost."""

from datetime import timedelta

import pytest
from django.test import Client

from accounts.sessions import end_sessions_and_tokens
from bookings.models import Assessment, Booking, Mark, Meeting, OutboxMessage
from tests.cast import NOW, PASSWORD, make_booking
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, make_school, text_of
from tests.functional.pages.wrapping_up_group import just_over, place_of, sent, shown, where


@pytest.fixture
def school(db: None) -> School:
    return make_school(PASSWORD)


@pytest.fixture
def group(school: School, hands: Hands) -> Meeting:
    return just_over(school, hands)


def test_a_form_that_saves_itself_leaves_the_register(school: School, group: Meeting) -> None:
    """All are present until something else is chosen, so only a button says so in the register."""
    ilse = as_user(school.ilse.user)
    saved = text_of(ilse.post(where(group), sent(text_of(ilse.get(where(group))), then="auto")))
    assert "Draft saved 14:30" in saved
    assert "<h1" not in saved
    assert (Assessment.objects.count(), Mark.objects.count()) == (3, 0)


def test_two_tabs_are_told_of_each_other(school: School, group: Meeting, hands: Hands) -> None:
    """The later one keeps what was typed in it, and replaces the other only when pressed again."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(group)))
    ilse.post(where(group), sent(page))
    hands.at += timedelta(minutes=1)
    late = ilse.post(where(group), sent(page, heard="Another air"))
    assert (late.status_code, "Another air" in text_of(late)) == (412, True)
    assert not Assessment.objects.filter(heard=["Another air"]).exists()
    again = ilse.post(where(group), sent(text_of(late), heard="Another air"))
    assert again.status_code == 302
    assert Assessment.objects.filter(heard=["Another air"]).count() == 3


def test_a_note_written_for_one_student_is_left_alone(
    school: School, group: Meeting, hands: Hands
) -> None:
    """On the page of that one booking; the common text changes for the others only."""
    ilse = as_user(school.ilse.user)
    ilse.post(where(group), sent(text_of(ilse.get(where(group)))))
    Assessment.objects.filter(student=school.noor).update(obstacle="The thumb", goal="Ten chords")
    hands.at += timedelta(minutes=1)
    page = text_of(ilse.get(where(group)))
    assert "Noor Ashgrove has a note of their own" in page
    ilse.post(where(group), sent(page, heard="Another air"))
    assert Assessment.objects.get(student=school.noor).heard == ["Airs by ear", "Placing drill"]
    assert Assessment.objects.filter(heard=["Another air"]).count() == 2


def test_somebody_removed_meanwhile_is_looked_at_again(school: School, group: Meeting) -> None:
    """Nothing is saved, what was typed is there, and a second press saves it without them."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(group)))
    Booking.objects.filter(pk=place_of(group, "Marlo")).update(
        standing="ENDED", ended_at=NOW, ended_why="removed"
    )
    late = ilse.post(where(group), sent(page))
    assert late.status_code == 412
    assert "no longer has a place" in text_of(late)
    assert "Sing it before you play it</textarea>" in text_of(late)
    assert (Assessment.objects.count(), Mark.objects.count()) == (0, 0)
    assert ilse.post(where(group), sent(text_of(late))).status_code == 302
    assert (Assessment.objects.count(), Mark.objects.count()) == (2, 2)


def test_somebody_added_meanwhile_is_neither_marked_nor_told(
    school: School, group: Meeting
) -> None:
    """The form did not show them: the page that asks once more names them as without a note."""
    ilse = as_user(school.ilse.user)
    Booking.objects.filter(pk=place_of(group, "Marlo")).delete()
    page = text_of(ilse.get(where(group)))
    make_booking(group, school.marlo)
    asked = ilse.get(ilse.post(where(group), sent(page, then="release")).url)
    assert "Without this note: Marlo Vance." in text_of(asked)
    assert (Assessment.objects.count(), Mark.objects.count()) == (2, 2)


def test_releasing_is_bound_to_the_list_that_was_shown(
    school: School, group: Meeting, hands: Hands
) -> None:
    """In another tab Marlo is marked absent meanwhile: nobody's note is released."""
    ilse = as_user(school.ilse.user)
    ilse.post(where(group), sent(text_of(ilse.get(where(group)))))
    asked = text_of(ilse.get(f"{where(group)}release/"))
    Mark.objects.filter(booking=place_of(group, "Marlo")).update(attendance="ABSENT_WITH_NOTICE")
    late = ilse.post(f"{where(group)}release/", shown(asked))
    assert (late.status_code, "Release to 2 students?" in text_of(late)) == (412, True)
    assert not Assessment.objects.filter(state="released").exists()
    assert not OutboxMessage.objects.exists()


def test_nothing_is_released_twice(school: School, group: Meeting) -> None:
    """The second press of the same page changes nothing."""
    ilse = as_user(school.ilse.user)
    ilse.post(where(group), sent(text_of(ilse.get(where(group)))))
    asked = shown(text_of(ilse.get(f"{where(group)}release/")))
    ilse.post(f"{where(group)}release/", asked)
    assert ilse.post(f"{where(group)}release/", asked).status_code == 412
    assert OutboxMessage.objects.filter(kind="assessment").count() == 3


def test_what_was_typed_survives_the_session(school: School, group: Meeting) -> None:
    """After signing in the form is there again, and is not saved by itself."""
    user, client = school.ilse.user, Client()
    said = {"login": user.email, "password": PASSWORD, "next": where(group)}
    client.post("/accounts/login/", said)
    typed = sent(text_of(client.get(where(group))), then="auto")
    typed[f"mark-{place_of(group, 'Noor')}"] = "LATE"
    end_sessions_and_tokens(user)
    client.post(where(group), typed, headers={"Referer": f"http://testserver{where(group)}"})
    client.post("/accounts/login/", said)
    page = text_of(client.get(where(group)))
    assert "Sing it before you play it</textarea>" in page
    assert '<option value="LATE" selected>' in page
    assert not Assessment.objects.exists()
