"""Wrap up a group in Debian's chromium: it saves itself, and axe finds nothing at four looks."""

import pytest
from playwright.sync_api import expect

from bookings.models import Assessment, Mark, Meeting
from tests.functional.pages.browser import Opens, faults_of
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School
from tests.functional.pages.wrapping_up_group import just_over, where

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.heavy]


@pytest.fixture
def group(people: School, hands: Hands) -> Meeting:
    return just_over(people, hands)


def test_a_group_is_wrapped_up_by_a_page_that_saves_itself(
    people: School, opens: Opens, group: Meeting
) -> None:
    """The drafts on leaving a field, the register with the button; then released to two of three,
    with both pages clean at both widths and in both schemes.
    """
    page = opens(people.ilse.user, where(group))
    found = faults_of(page, "empty")
    page.get_by_label("What you worked on").fill("Airs by ear")
    page.get_by_label("Next steps for everybody").fill("Sing it first")
    page.get_by_label("A goal for Marlo").focus()
    expect(page.locator("#saved")).to_contain_text("Draft saved 14:30")
    assert (Assessment.objects.count(), Mark.objects.count()) == (3, 0)
    page.get_by_label("Posy", exact=True).select_option("ABSENT_WITH_NOTICE")
    page.get_by_role("button", name="Release to everybody who came").click()
    page.wait_for_url("**/release/")
    expect(page.get_by_text("Without this note: Posy.")).to_be_visible()
    found += faults_of(page, "release")
    page.get_by_role("button", name="Release to 2 students").click()
    page.wait_for_url("**/today/**")
    assert Assessment.objects.released().count() == 2
    assert found == []
