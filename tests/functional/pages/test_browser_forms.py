"""The forms in Debian's chromium: the clock of an invited person, and axe on the pages of this
folder's forms.
"""

import pytest
from playwright.sync_api import expect

from accounts.models import Guardianship, Student, User
from bookings.models import OutboxMessage
from bookings.operations.invitations import invite
from tests.cast import NOW, PASSWORD, make_assessment, make_minor
from tests.functional.pages.browser import Opens, violations
from tests.functional.pages.school import School
from tests.functional.pages.welcome import secret_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def invited(school: School) -> str:
    """The address of an invitation for a guardian."""
    email, child = "colette@rowanmere.example", school.posy
    invite(actor=school.dag, email=email, name="Colette Aubrac", guardian_of=child, now=NOW)
    assert OutboxMessage.objects.exists()
    return secret_of("welcome")


@pytest.mark.parametrize(
    ("browser_zone", "chosen"),
    [("Europe/Paris", "Europe/Paris"), ("Asia/Calcutta", "Asia/Kolkata")],
)
def test_the_clock_is_the_browser_s_before_the_first_submit(
    people: School,
    opens: Opens,
    browser_zone: str,
    chosen: str,
) -> None:
    """On the first page this browser ever opens; the guardian is signed in and on that clock."""
    page = opens(None, invited(people), time_zone=browser_zone)
    expect(page.get_by_label("Your clock")).to_have_value(chosen)
    page.get_by_label("A password of your own").fill(PASSWORD)
    page.get_by_role("button", name="Create my account").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Posy’s lessons")
    assert User.objects.get(email="colette@rowanmere.example").zone == chosen


def test_without_javascript_the_clock_is_asked_for(people: School, opens: Opens) -> None:
    """Nothing is chosen, and the browser itself does not send the form without a choice."""
    page = opens(None, invited(people), java_script_enabled=False)
    expect(page.get_by_label("Your clock")).to_have_value("")


def kit_of(people: School) -> Student:
    return make_minor("Kit Lindqvist-Reed", guardian=people.hedda, level=4, consent=False)


def test_axe_finds_nothing_on_the_forms(people: School, opens: Opens) -> None:
    """The invitation, the consent, the page of a child without it, a note written and released,
    the notes so far, and a booking that stands.
    """
    kit, note = kit_of(people), make_assessment(people.noor, people.ilse)
    make_assessment(people.noor, people.ilse, state="released", released_at=NOW, bands={"tone": 3})
    form = f"/me/consents/{Guardianship.objects.get(student=kit).pk}/"
    begun = f"/times/book/?offering={people.consultation.pk}&instructor={people.ilse.pk}"
    pages = [
        (None, invited(people)),
        (people.hedda, form),
        (people.hedda, f"/my-lessons/?student={kit.pk}"),
        (people.ilse.user, f"/assessments/{note.pk}/write/"),
        (people.ilse.user, f"/assessments/{note.pk}/release/"),
        (people.noor.user, f"/students/{people.noor.pk}/notes/"),
        (people.noor.user, f"{begun}&starts_at=2027-03-12T17:30:00Z"),
        (people.noor.user, f"/my-lessons/{people.booking.pk}/intake/"),
        (people.noor.user, "/accounts/reauthenticate/"),
    ]
    for user, address in pages:
        page = opens(user, address)
        found = violations(page)
        assert found == [], f"{address}: {found}"
