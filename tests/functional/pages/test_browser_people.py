"""People in Debian's chromium: suggestions while typing, a file from the sample to the end, and axe
on every state of these pages.
"""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from accounts.models import Student
from bookings.operations.addresses import ask_new_address
from bookings.operations.invitations import invite
from tests.cast import NOW, make_user
from tests.functional.pages.browser import Opens, faults_of
from tests.functional.pages.matrix_people import kept_file
from tests.functional.pages.school import School
from tests.school.addresses import secret_to

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_people_are_suggested_while_an_admin_types(people: School, opens: Opens) -> None:
    """What is suggested is sent as it stands, and means that person."""
    page = opens(people.dag, f"/people/students/{people.noor.pk}/")
    box = page.get_by_label("Instructor", exact=True)
    box.press_sequentially("hallo")
    label = f"Wren Halloway, {people.wren.user.email}"
    option = page.locator("#id_regular_instructor-found option")
    expect(option).to_have_count(1)
    expect(option).to_have_attribute("value", label)
    box.fill(label)
    page.get_by_role("button", name="Save the regular instructor").click()
    expect(page.get_by_label("Instructor", exact=True)).to_have_value(label)
    assert Student.objects.get(pk=people.noor.pk).regular_instructor == people.wren


def test_without_javascript_several_who_match_are_ticked(people: School, opens: Opens) -> None:
    """Typed, sent, ticked, sent again."""
    make_user("Hedda Marsh", email="hedda@marsh.example")
    page = opens(people.dag, "/people/students/new/", java_script_enabled=False)
    page.get_by_label("Name", exact=True).fill("Kit Fell")
    page.get_by_label("Level").fill("2")
    page.get_by_label("Adult or minor").select_option("minor")
    page.get_by_label("18th birthday").fill("2034-06-01")
    page.get_by_label("Clock").select_option("Europe/Dublin")
    page.get_by_label("Somebody who is here already").first.fill("hedda")
    page.get_by_role("button", name="Add the student").click()
    page.get_by_label("Hedda Marsh, hedda@marsh.example").check()
    page.get_by_role("button", name="Add the student").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Kit Fell")
    expect(page.get_by_text("Invited: Hedda Marsh.")).to_be_visible()


def test_the_sample_is_downloaded_and_brought_in(
    people: School, opens: Opens, tmp_path: Path
) -> None:
    """As the page hands it out."""
    page = opens(people.dag, "/people/")
    page.get_by_role("link", name="Bring people in from a file").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download a sample").click()
    sample = tmp_path / "people.csv"
    download.value.save_as(sample)
    page.get_by_label("CSV file").set_input_files(sample)
    page.get_by_role("button", name="Check the file").click()
    page.get_by_role("button", name="Bring them in").click()
    expect(page.get_by_text("Students added: 3. People invited: 4.")).to_be_visible()


@pytest.mark.heavy
def test_axe_finds_nothing_on_the_pages_of_people(people: School, opens: Opens) -> None:
    """Each state, at two widths, light and dark; and nothing is wider than the page."""
    good, bad = kept_file(people), kept_file(people, {"Role": "student", "Name": "=1+1"})
    invite(actor=people.dag, email="o@x.example", name="O", guardian_of=people.posy, now=NOW)
    address = "n@rowanmere.example"
    noor = people.noor.user
    assert noor is not None
    ask_new_address(actor=people.dag, user=noor, email=address, now=NOW)
    pages = [
        (people.dag, "/people/bring-in/"),
        (people.dag, f"/people/bring-in/{good.pk}/"),
        (people.dag, f"/people/bring-in/{bad.pk}/"),
        (people.dag, "/people/students/new/"),
        (people.dag, f"/people/students/{people.posy.pk}/"),
        (people.dag, f"/people/students/{people.noor.pk}/"),
        (people.dag, f"/people/accounts/{noor.pk}/"),
        (people.dag, f"/people/accounts/{people.ilse.user_id}/"),
        (None, f"/new-address/{secret_to(address)}/"),
    ]
    found = []
    for user, where in pages:
        found += faults_of(opens(user, where), where)
    page = opens(people.dag, "/people/students/new/")
    page.eval_on_selector("main form", "form => form.noValidate = true")
    page.get_by_label("Somebody who is here already").first.fill("e")
    page.get_by_role("button", name="Add the student").click()
    expect(page.get_by_text("Who is meant?")).to_be_visible()
    assert found + faults_of(page, "Who is meant?") == []
