"""A newcomer in Debian's chromium: from the link in the invitation to the first booked lesson."""

import time

import pytest

from accounts.models import Student, User
from bookings.door import write
from bookings.models import Booking
from bookings.operations.invitations import invite
from tests.cast import NOW
from tests.functional.pages.browser import Keys, Opens
from tests.functional.pages.school import School
from tests.functional.pages.welcome import secret_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.heavy]

MOST_SECONDS, CHOICES = 60, 6
KEY, THOUGHT = 0.28, 1.35
"""Seconds of a key press of an average typist and of the pause before each field or choice: the
keystroke-level model of Card, Moran and Newell, 1980.
"""


def test_a_newcomer_books_their_first_lesson_in_a_minute(people: School, opens: Opens) -> None:
    """By keyboard: a password, the clock as the browser sets it, and the best of the times."""
    juno = Student.objects.create(
        own_name="Juno Farrow", own_time_zone=people.posy.own_time_zone, level=4, unit=1
    )
    asked = {"email": "juno@rowanmere.example", "name": "Juno Farrow", "student": juno}
    write(lambda: invite(actor=people.dag, now=NOW, **asked), now=NOW)
    page = opens(None, secret_of("welcome"), time_zone="America/New_York")
    began, keys = time.monotonic(), Keys(page)
    keys.tab_to("password")
    keys.write("three slow strings")
    keys.tab_to("Create my account")
    keys.press("Enter")
    page.wait_for_url("**/my-lessons/")
    assert User.objects.get(email=asked["email"]).zone == "America/New_York"
    keys.tab_to("Times that suit")
    keys.press("Enter")
    page.wait_for_url("**/times/")
    keys.tab_to(page.locator(".best a").first.inner_text())
    keys.press("Enter")
    page.wait_for_url("**/times/book/**")
    keys.tab_to("question_1")
    keys.write("How do I begin?")
    keys.tab_to("Book ")
    keys.press("Enter")
    page.wait_for_url("**/my-lessons/")
    seconds = time.monotonic() - began
    print(f"{keys.pressed} keys, {CHOICES} fields and choices, {seconds:.1f} s for the pages")
    assert Booking.objects.get(student=juno).intake.questions == ["How do I begin?"]
    assert seconds + keys.pressed * KEY + CHOICES * THOUGHT < MOST_SECONDS
