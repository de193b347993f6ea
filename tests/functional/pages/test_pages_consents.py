"""A guardian's consent: said on every page of the child, given where the guardian is."""

import re

import pytest

from accounts.models import Guardianship, Student
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.consents import ask_for_consent
from tests.cast import NOW, give_account, make_minor, make_user
from tests.functional.pages.school import School, as_user, text_of


@pytest.fixture
def kit(school: School) -> Student:
    """Hedda's second child, for whom nobody has consented yet."""
    return make_minor("Kit Lindqvist-Reed", guardian=school.hedda, level=4, consent=False)


def form_of(kit: Student) -> str:
    return f"/me/consents/{Guardianship.objects.get(student=kit).pk}/"


def wording_on(page: str) -> str:
    return re.search(r'name="wording" value="([^"]+)"', page)[1]  # type: ignore[index]


def booking_of(school: School, kit: Student) -> dict[str, object]:
    return {
        "student": kit.pk,
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": "2027-03-15T17:30:00Z",
    }


def test_every_page_of_a_child_without_consent_leads_to_the_form(
    school: School, kit: Student
) -> None:
    """Wherever the guardian is, the page says what is missing and links the form; nobody else is
    told.
    """
    hedda = as_user(school.hedda)
    for page in ("/my-lessons/", "/times/", "/weekly/", "/meetings/", "/calendars/", "/me/"):
        shown = text_of(hedda.get(f"{page}?student={kit.pk}"))
        assert "Kit’s lessons need a guardian’s consent" in shown, page
        assert f'href="{form_of(kit)}' in shown, page
    assert "guardian’s consent" not in text_of(as_user(school.noor.user).get("/my-lessons/"))


def test_a_guardian_who_is_signed_in_gives_consent_there(school: School, kit: Student) -> None:
    """No email is needed: dated, with the wording that was shown, and then back to the booking."""
    hedda, after = as_user(school.hedda), "/times/?student=1"
    address = f"{form_of(kit)}?next={after}"
    page = text_of(hedda.get(address))
    assert "I am Kit’s parent or guardian, and I agree." in page
    assert hedda.post(address, {"wording": wording_on(page)}).status_code == 422
    assert hedda.post(address, {"agree": "yes", "wording": "2020-01"}).status_code == 412
    agreed = hedda.post(address, {"agree": "yes", "wording": wording_on(page)})
    assert agreed.url == after
    given = Guardianship.objects.get(student=kit)
    assert (given.consent_at, given.consent_wording) == (NOW, "2026-11")
    assert AuditRow.objects.filter(verb="consented", actor=school.hedda).count() == 1
    assert "need a guardian’s consent" not in text_of(hedda.get("/my-lessons/"))


def test_nobody_is_led_away_from_the_school(school: School, kit: Student) -> None:
    """An address elsewhere is not followed after the consent."""
    hedda, address = as_user(school.hedda), f"{form_of(kit)}?next=https://elsewhere.example/"
    agreed = {"agree": "yes", "wording": wording_on(text_of(hedda.get(address)))}
    assert hedda.post(address, agreed).url == f"/my-lessons/?student={kit.pk}"


def test_the_form_is_the_guardian_s_own(school: School, kit: Student) -> None:
    """Anybody else finds nothing there, an admin too."""
    for user in (school.noor.user, school.dag):
        assert as_user(user).get(form_of(kit)).status_code == 404
        assert as_user(user).post(form_of(kit), {"agree": "yes"}).status_code == 404


def test_a_form_that_has_not_left_yet_is_not_mailed_after_the_consent(
    school: School, kit: Student
) -> None:
    """Nobody is asked for what they have just given."""
    ask_for_consent(student_id=kit.pk, now=NOW)
    hedda = as_user(school.hedda)
    agreed = {"agree": "yes", "wording": wording_on(text_of(hedda.get(form_of(kit))))}
    hedda.post(form_of(kit), agreed)
    assert not OutboxMessage.objects.filter(kind="consent", state="due").exists()


def test_the_booking_page_shows_the_consent_first(school: School, kit: Student) -> None:
    """The guardian is led to the form, and from there back to the time they have chosen."""
    hedda = as_user(school.hedda)
    led = hedda.get("/times/book/", booking_of(school, kit))
    assert led.status_code == 302
    assert led.url.startswith(form_of(kit))
    agreed = {"agree": "yes", "wording": wording_on(text_of(hedda.get(led.url)))}
    back = hedda.get(hedda.post(led.url, agreed).url)
    assert "Book Tuesday 16 March, 04:30" in text_of(back)


def test_a_guardian_is_never_told_that_the_guardian_was_written_to(
    school: School, kit: Student
) -> None:
    """A form sent without consent keeps what was written and names the guardian's own step."""
    asked = {**booking_of(school, kit), "question_1": "May we use the lever harp?"}
    refused = as_user(school.hedda).post("/times/book/", asked)
    page = text_of(refused)
    assert refused.status_code == 409
    assert "We have emailed the guardian" not in page
    assert f'href="{form_of(kit)}' in page
    assert "May we use the lever harp?" in page
    assert "Free times nearby" not in page


def test_a_child_with_an_account_asks_their_guardian(school: School, kit: Student) -> None:
    """They see no booking form, and one button that emails the guardian the form, once."""
    child = as_user(give_account(kit))
    page = text_of(child.get("/times/book/", booking_of(school, kit)))
    assert "Your parent or guardian has to agree first" in page
    assert "question_1" not in page
    for said in ("We have emailed your guardian the form.", "Your guardian has the form already."):
        answer = child.post("/my-lessons/ask-for-consent/", {"student": kit.pk}, follow=True)
        assert said in text_of(answer)
    assert OutboxMessage.objects.filter(kind="consent").count() == 1


def test_another_guardian_s_consent_is_enough(school: School, kit: Student) -> None:
    """Nothing is asked of the second guardian on the pages."""
    other = make_user("Rune Fell")
    Guardianship.objects.create(guardian=other, student=kit)
    Guardianship.objects.filter(guardian=school.hedda, student=kit).update(
        consent_at=NOW, consent_wording="2026-11"
    )
    assert "guardian’s consent" not in text_of(as_user(other).get("/my-lessons/"))
