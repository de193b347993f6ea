"""Wrap up in Debian's chromium: by keyboard alone, saving itself, at four looks."""

import os
import time
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from bookings.models import Assessment, Booking, Intake, Mark
from tests.cast import at, make_assessment, make_booking, make_meeting, make_student
from tests.functional.pages.browser import Keys, Opens, faults_of
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.heavy]

START = at("2027-03-01T16:00Z")
MOST_SECONDS = 180
"""A full assessment by keyboard, as the school asks; a person's typing is added at 5 keys a second.
"""
LOOKS = os.environ.get("LOOKS")
"""A folder for pictures of the page, for whoever wants to look at them."""


@pytest.fixture
def lesson(people: School, hands: Hands) -> Booking:
    """Noor's consultation of today, over for five minutes, after two notes of Ilse's."""
    hands.at = START + timedelta(minutes=30)
    for month, obstacle in ((1, "Reads the left hand late."), (2, "Thumbs sink between chords.")):
        heard = at(f"2027-0{month}-08T16:00Z")
        make_assessment(
            people.noor,
            people.ilse,
            state="released",
            released_at=heard,
            heard_on=heard.date(),
            obstacle=obstacle,
            practice=[{"what": "Placing drill", "minutes": 15, "is_review": False}],
        )
    booking = make_booking(make_meeting(people.consultation, people.ilse, START), people.noor)
    Intake.objects.create(
        booking=booking,
        questions=["Why does my fourth finger arrive late?", "May I start the next unit?"],
        written_at=START,
    )
    return booking


def test_a_full_assessment_by_keyboard(people: School, opens: Opens, lesson: Booking) -> None:
    """From the top of the page to the release, in less than three minutes."""
    page = opens(people.ilse.user, f"/wrap-up/{lesson.pk}/")
    began, keys = time.monotonic(), Keys(page)
    keys.tab_to("attendance")
    keys.press("Space")
    keys.tab_to("heard")
    keys.write("Four studies in three-four, no. 2")
    for name, band in (("band_placing", 3), ("band_tone", 2)):
        keys.tab_to(name)
        keys.press("ArrowRight", band)
    keys.tab_to("obstacle")
    keys.write("The fourth finger arrives late.")
    keys.tab_to("next_steps")
    keys.write("Place the fourth finger first")
    keys.tab_to("goal")
    keys.write("Ten placed chords at 72")
    keys.tab_to("what_0")
    keys.write("Placing drill, hands apart")
    keys.press("Tab")
    keys.write("10")
    keys.tab_to("next_date")
    keys.press("ArrowUp", 4)
    keys.tab_to("Release to Noor")
    keys.press("Enter")
    page.wait_for_url("**/release/**")
    expect(page.get_by_text("Place the fourth finger first")).to_be_visible()
    keys.tab_to("Release to Noor and book")
    keys.press("Enter")
    page.wait_for_url("**/today/**")
    seconds = time.monotonic() - began
    print(f"{keys.pressed} keys, {seconds:.1f} s for the pages")
    assert seconds + keys.pressed / 5 < MOST_SECONDS
    note = Assessment.objects.get(meeting=lesson.meeting_id)
    assert (note.state, note.bands) == ("released", {"placing": 3, "tone": 2})
    assert Mark.objects.get().attendance == "PRESENT"
    assert Booking.objects.of(people.noor).filter(starts_at__gt=at("2027-03-25T00:00Z")).count()


def test_the_draft_saves_itself(people: School, opens: Opens, lesson: Booking) -> None:
    """On leaving a field; after the session has ended the page says so, and the text is kept."""
    page = opens(people.ilse.user, f"/wrap-up/{lesson.pk}/")
    page.get_by_label("Present", exact=True).check()
    page.get_by_label("The obstacle").fill("The fourth finger arrives late.")
    page.get_by_label("The goal", exact=True).focus()
    expect(page.locator("#saved")).to_contain_text("Draft saved 16:30")
    assert Assessment.objects.get(meeting=lesson.meeting_id).obstacle.startswith("The fourth")
    page.get_by_label("See again").select_option("2")
    expect(page.get_by_text("Monday 15 March, 16:00")).to_be_visible()
    page.context.clear_cookies(name="sessionid")
    page.get_by_label("The goal", exact=True).fill("Ten placed chords")
    page.get_by_label("The obstacle").focus()
    expect(page.locator("#saved")).to_contain_text("You are signed out")
    expect(page.get_by_label("The goal", exact=True)).to_have_value("Ten placed chords")


def test_no_note_is_asked_for_when_nobody_came(
    people: School, opens: Opens, lesson: Booking
) -> None:
    """The note folds away, without a script too; the next date stays."""
    page = opens(people.ilse.user, f"/wrap-up/{lesson.pk}/", java_script_enabled=False)
    expect(page.get_by_label("The obstacle")).to_be_visible()
    page.get_by_label("Absent without notice").check()
    expect(page.get_by_label("The obstacle")).not_to_be_visible()
    expect(page.get_by_text("No note is needed.")).to_be_visible()
    expect(page.get_by_text("Not now")).to_be_visible()


def test_axe_finds_nothing_on_either_page(people: School, opens: Opens, lesson: Booking) -> None:
    """Empty, filled and refused, then the page that asks once more: wide and narrow, in the dark
    too.
    """
    page = opens(people.ilse.user, f"/wrap-up/{lesson.pk}/")
    found: list[str] = []

    def look(name: str) -> None:
        def draw(how: str) -> None:
            page.screenshot(path=str(Path(LOOKS or "") / f"{name}-{how}.png"), full_page=True)

        found.extend(faults_of(page, name, draw if LOOKS else None))

    look("empty")
    page.get_by_role("button", name="Release to Noor").click()
    look("refused")
    page.get_by_label("Present", exact=True).check()
    page.get_by_label("Next steps").fill("Place the fourth finger first")
    page.get_by_label("The goal", exact=True).fill("Ten placed chords at 72")
    page.get_by_role("button", name="Start from the usual plan").click()
    page.locator("input[name=next_date]").first.check()
    look("filled")
    page.get_by_role("button", name="Release to Noor").click()
    page.wait_for_url("**/release/**")
    look("release")
    assert found == []


def wrap_up_from_today(keys: Keys, page: Page, name: str) -> None:
    """One lesson by keyboard: present, a step and a goal, the first date, released."""
    keys.tab_to(f"Wrap up {name}")
    keys.press("Enter")
    page.wait_for_url("**/wrap-up/*/")
    keys.tab_to("attendance")
    keys.press("Space")
    keys.tab_to("next_steps")
    keys.write("Place the fourth finger first")
    keys.tab_to("goal")
    keys.write("Ten placed chords at 72")
    keys.tab_to("next_date")
    keys.press("ArrowDown")
    keys.tab_to("Release to")
    keys.press("Enter")
    page.wait_for_url("**/release/**")
    keys.tab_to("Release to")
    keys.press("Enter")
    page.wait_for_url("**/today/**")


def test_a_day_of_eight_by_keyboard(people: School, opens: Opens, hands: Hands) -> None:
    """Briefs on one page, then eight lessons from Today: marked, released, the next date booked."""
    names = ("Noor", "Marlo", "Fergus", "Imogen", "Juniper", "Ishani", "Amaro", "Lia")
    first = at("2027-03-01T11:00Z")
    starts = [first + timedelta(minutes=30 * place) for place in range(7)]
    lessons = [
        make_booking(make_meeting(people.consultation, people.ilse, start), student)
        for start, student in zip(
            [*starts, at("2027-03-01T15:30Z")],
            [people.noor, people.marlo, *(make_student(f"{name} Reed") for name in names[2:])],
            strict=True,
        )
    ]
    hands.at = at("2027-03-01T16:30Z")
    page = opens(people.ilse.user, "/today/briefs/")
    expect(page.locator("article.brief")).to_have_count(8)
    page.goto("/today/")
    expect(page.locator(".due")).to_contain_text("Lessons to wrap up")
    began, keys = time.monotonic(), Keys(page)
    for name in names:
        wrap_up_from_today(keys, page, name)
    seconds = time.monotonic() - began
    print(f"eight lessons: {keys.pressed} keys, {seconds:.1f} s for the pages, no click")
    assert Mark.objects.filter(booking__in=lessons).count() == 8
    assert Assessment.objects.released().count() == 8
    assert Booking.objects.held().filter(starts_at__gt=at("2027-03-25T00:00Z")).count() == 8
    expect(page.locator(".due")).to_have_count(0)
