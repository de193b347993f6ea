"""The pages in Debian's chromium: journeys with a mouse, one without, every page under axe, and the
starts that are drawn.
"""

import pytest
from playwright.sync_api import Page, expect

from accounts.models import User
from bookings.models import Booking, TeachingHours
from tests.cast import PASSWORD, at
from tests.functional.pages.browser import FOCUS, Opens, faults_of
from tests.functional.pages.conftest import Hands
from tests.functional.pages.every_page import pages_of
from tests.functional.pages.school import School

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def sign_in(page: Page, user: User) -> None:
    page.get_by_label("Email address").fill(user.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


@pytest.mark.journey
def test_a_student_books_a_consultation(people: School, opens: Opens) -> None:
    """From signing in to My lessons, choosing with whom and from when."""
    page = opens(None, "/times/", time_zone="America/New_York")
    sign_in(page, people.noor.user)
    expect(page.get_by_role("heading", level=1)).to_contain_text("anyone who teaches level 4")
    page.get_by_label("With").select_option("Ilse Quarrow")
    page.get_by_text("Other days and hours").click()
    page.get_by_label("From").fill("2027-03-12")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("this day has 23 hours")).to_be_visible()
    monday = page.locator("section.day", has_text="15 March")
    monday.locator("summary").first.click()
    monday.get_by_role("link", name="12:00").click()
    expect(page.locator(".when .yours")).to_contain_text("Monday 15 March, 16:00")
    page.get_by_label("Your most pressing question").fill("Why does the fourth finger fold?")
    page.get_by_role("button", name="Book Monday 15 March, 12:00").click()
    expect(page.locator(".said")).to_contain_text("Booked: Consultation with Ilse Quarrow")
    expect(page.get_by_role("heading", name="Monday 15 March")).to_be_visible()
    assert Booking.objects.get(starts_at=at("2027-03-15T16:00Z")).intake.questions == [
        "Why does the fourth finger fold?"
    ]


@pytest.mark.journey
def test_an_instructor_publishes_hours(people: School, opens: Opens) -> None:
    """Typed hours answer as strips, and a line that cannot be read is pointed at."""
    page = opens(people.ilse.user, "/hours/")
    page.get_by_role("textbox", name="Wednesday").fill("9:00-12:00, 14:00-17:30")
    page.get_by_role("textbox", name="Thursday").fill("from nine")
    page.get_by_role("button", name="Publish the week").click()
    expect(page.get_by_role("alert")).to_contain_text("Thursday")
    page.get_by_role("alert").get_by_role("link").click()
    expect(page.get_by_role("textbox", name="Thursday")).to_be_focused()
    page.get_by_role("textbox", name="Thursday").fill("")
    page.get_by_role("button", name="Publish the week").click()
    expect(page.locator(".said")).to_contain_text("Published")
    expect(page.locator(".day", has_text="Wednesday").locator("rect.band")).to_have_count(2)
    assert TeachingHours.objects.filter(week__instructor=people.ilse, weekday=2).count() == 2


def test_booking_by_keyboard_alone(people: School, opens: Opens) -> None:
    """Tab, Enter and typing from the sign-in page to the booking; the focus is always seen and
    never caught.
    """
    page = opens(None, "/accounts/login/", time_zone="America/New_York")

    def tab_to(what: str, most: int = 60) -> None:
        for _ in range(most):
            page.keyboard.press("Tab")
            here = page.evaluate(FOCUS)
            if what in here[0]:
                assert here[1], f"the focus on {what} is not seen"
                return
        raise AssertionError(f"{what} is not reached by keyboard")

    tab_to("Skip to the page", 1)
    page.keyboard.press("Enter")
    tab_to("login")
    page.keyboard.type(people.noor.user.email)
    tab_to("password")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/my-lessons/")
    tab_to("Times that suit")
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/")
    tab_to("Later days")
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/?**since=2027-03-08")
    tab_to("Tuesday 9 March: ")
    page.keyboard.press("Enter")
    tab_to("12:00", 4)
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/book/**")
    tab_to("question_1")
    page.keyboard.type("Where does the thumb rest?")
    tab_to("Book Tuesday 9 March")
    page.keyboard.press("Enter")
    page.wait_for_url("**/my-lessons/")
    assert Booking.objects.get(starts_at=at("2027-03-09T17:00Z")).intake.questions == [
        "Where does the thumb rest?"
    ]


def test_the_browsers_own_clock_is_asked_about(people: School, opens: Opens) -> None:
    """Noor travels to Sydney: the next page asks, and their answer moves every page."""
    page = opens(people.noor.user, "/my-lessons/", time_zone="Australia/Sydney")
    page.reload()
    page.get_by_role("button", name="Sydney", exact=True).click()
    expect(page.locator(".me")).to_contain_text("Sydney 20:00")


@pytest.mark.parametrize("who", ["student", "guardian", "instructor", "admin", "stranger"])
def test_axe_finds_nothing_and_nothing_hangs_over(people: School, opens: Opens, who: str) -> None:
    """Every page at two widths by WCAG 2.2 AA and axe's own practice, its colours in the dark, too;
    none is wider than 360 px.
    """
    users = {
        "student": people.noor.user,
        "guardian": people.hedda,
        "instructor": people.ilse.user,
        "admin": people.dag,
        "stranger": None,
    }
    page, found = opens(users[who], "/accounts/login/"), []
    pages = [address for reader, _, address in pages_of(people) if reader == who]
    assert pages
    for address in pages:
        page.goto(address)
        found += faults_of(page, f"{who} {address}")
    assert found == []


def test_the_picture_of_times_that_suit(people: School, opens: Opens, hands: Hands) -> None:
    """Each start of the list has its stem."""
    hands.at = at("2027-03-11T14:12Z")
    page = opens(people.noor.user, f"/times/?since=2027-03-12&instructor={people.ilse.pk}")
    for day in page.locator("section.day").all():
        drawn = day.locator("path.stem").all()
        stems = sum((path.get_attribute("d") or "").count("M") for path in drawn)
        assert stems == day.locator(".starts li").count()
