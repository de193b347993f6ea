"""A session that ended while somebody wrote: after signing in, the form again with what was
written.
"""

import re
from datetime import timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client

from accounts import kept_forms
from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings.models import Booking, Intake, OutboxMessage
from tests.cast import PASSWORD
from tests.functional.pages.booking import ask_to_book
from tests.functional.pages.school import School, make_school, text_of
from tests.functional.pages.second_factor import code, with_factor

AGAIN = "What you wrote is below. It is not saved yet: press the button again."
QUESTION = "Why does the fourth finger fold?"


@pytest.fixture
def school(db: None) -> School:
    return make_school(PASSWORD)


def sign_in(client: Client, user: User | None, after: str = "/") -> Any:
    assert user is not None
    said = {"login": user.email, "password": PASSWORD, "next": after}
    return client.post("/accounts/login/", said)


def signed_in(user: User | None) -> Client:
    client = Client()
    sign_in(client, user)
    return client


def send_late(
    client: Client, user: User | None, page: str, said: dict[str, Any], to: str = ""
) -> Any:
    """The session ends, then the form that stood on `page` is sent."""
    assert user is not None
    end_sessions_and_tokens(user)
    referer = {"Referer": f"http://testserver{page}"}
    return client.post(to or page, said, headers=referer)


def intake_of(school: School) -> str:
    return f"/my-lessons/{school.booking.pk}/intake/"


def test_what_was_written_is_there_after_signing_in(school: School) -> None:
    """Nothing is saved by itself; the person presses the button, and then it is."""
    noor, page = signed_in(school.noor.user), intake_of(school)
    said = {"question_1": QUESTION, "recordings": "One <b>\nTwo & three", "version": "1"}
    led = send_late(noor, school.noor.user, page, said)
    assert led.url == f"/accounts/login/?next={page}"
    assert "What you wrote is kept for 30 minutes" in text_of(noor.get(led.url))
    assert sign_in(noor, school.noor.user, page).url == page
    shown = text_of(noor.get(page))
    assert AGAIN in shown
    assert f'value="{QUESTION}"' in shown
    assert "One &lt;b&gt;\nTwo &amp; three</textarea>" in shown
    assert not Intake.objects.exists()
    assert noor.post(page, said).status_code == 302
    assert Intake.objects.get().questions == [QUESTION]
    assert AGAIN not in text_of(noor.get(page))


def test_choices_ticks_and_the_version_come_back_too(school: School) -> None:
    """A booking page, whose form goes to another address than the page has."""
    noor, asked = signed_in(school.noor.user), ask_to_book(school, "2027-03-15T16:00:00Z")
    page = "/times/book/?" + "&".join(f"{name}={value}" for name, value in asked.items())
    led = send_late(noor, school.noor.user, page, {**asked, "question_2": "Tempo?"}, "/times/book/")
    sign_in(noor, school.noor.user)
    assert "starts_at" in led.url
    shown = text_of(noor.get(page))
    assert 'value="Tempo?"' in shown
    assert not Booking.objects.filter(starts_at="2027-03-15T16:00Z").exists()


def test_an_assessment_is_filled_in_again(school: School) -> None:
    """Selects and text areas; the reader's own pages alone, once the second factor is passed."""
    user, page = school.ilse.user, f"/brief/{school.booking.pk}/assessment/"
    secret = with_factor(user)
    ilse = signed_in(user)
    ilse.post("/accounts/2fa/authenticate/", {"code": code(secret)})
    said = {
        "level": "7",
        "band_hand_shape": "3",
        "private_remarks": "shy today",
        "heard_on": "2027-02-26",
    }
    send_late(ilse, user, page, said)
    sign_in(ilse, user)
    assert ilse.get(page).status_code == 302
    ilse.post("/accounts/2fa/authenticate/", {"code": recovery_code(user)})
    shown = text_of(ilse.get(page))
    assert re.search(r'<option value="3" selected[^>]*>3, steady', shown)
    assert "shy today</textarea>" in shown
    assert 'value="7"' in shown


def recovery_code(user: User) -> str:
    """One that has not been used: an app shows the same code for half a minute."""
    row = Authenticator.objects.get(user=user, type=Authenticator.Type.RECOVERY_CODES)
    codes: list[str] = row.wrap().get_unused_codes()
    return codes[0]


def test_somebody_else_sees_nothing_of_it_and_it_is_destroyed(school: School) -> None:
    """On a family's browser another person signs in first: nothing is shown to them or left for the
    writer.
    """
    noor, page = signed_in(school.noor.user), intake_of(school)
    send_late(noor, school.noor.user, page, {"question_1": QUESTION})
    sign_in(noor, school.dag)
    assert QUESTION not in text_of(noor.get(page))
    end_sessions_and_tokens(school.dag)
    sign_in(noor, school.noor.user)
    assert QUESTION not in text_of(noor.get(page))


def test_a_new_password_by_email_is_somebody_else_too(school: School) -> None:
    """Whoever proves an account in this browser otherwise than its writer destroys what is kept."""
    noor, page = signed_in(school.noor.user), intake_of(school)
    send_late(noor, school.noor.user, page, {"question_1": QUESTION})
    noor.post("/accounts/password/reset/", {"email": "marlo@rowanmere.example"})
    letter = OutboxMessage.objects.latest("pk").body
    form = noor.get(re.search(r"/accounts/password/reset/key/\S+", letter)[0], follow=True)
    new = {"password1": "another-fine-sentence", "password2": "another-fine-sentence"}
    assert noor.post(form.request["PATH_INFO"], new).status_code == 302
    sign_in(noor, school.noor.user)
    assert QUESTION not in text_of(noor.get(page))


def test_a_form_from_before_somebody_else_signed_in_is_refused(school: School) -> None:
    """It cannot be taken for theirs: its token against forged forms is no longer the browser's."""
    browser, page = Client(enforce_csrf_checks=True), intake_of(school)

    def enters(user: User | None) -> None:
        token = token_on(text_of(browser.get("/accounts/login/")))
        said = {"login": user.email, "password": PASSWORD}  # type: ignore[union-attr]
        browser.post("/accounts/login/", {**said, "csrfmiddlewaretoken": token})

    enters(school.noor.user)
    old = token_on(text_of(browser.get(page)))
    end_sessions_and_tokens(school.noor.user)  # type: ignore[arg-type]
    enters(school.marlo.user)
    end_sessions_and_tokens(school.marlo.user)  # type: ignore[arg-type]
    late = browser.post(page, {"question_1": QUESTION, "csrfmiddlewaretoken": old})
    assert late.status_code == 403


def token_on(page: str) -> str:
    return re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]


def test_it_is_kept_for_thirty_minutes_and_sealed(school: School, monkeypatch: Any) -> None:
    """The store holds no word of it, and is asked to forget it after 30 minutes."""
    held: list[tuple[str, bytes, float]] = []
    monkeypatch.setattr(kept_forms.cache, "set", lambda *said: held.append(said))
    noor, page = signed_in(school.noor.user), intake_of(school)
    send_late(noor, school.noor.user, page, {"question_1": QUESTION})
    ((_, value, timeout),) = held
    assert timeout == timedelta(minutes=30).total_seconds()
    assert QUESTION.encode() not in value
    assert QUESTION not in str(noor.cookies)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("/accounts/password/change/", {"oldpassword": PASSWORD, "password1": "hidden"}),
        (
            "/busy-calendars/",
            {"busy-name": "Choir", "busy-address": "https://c.example/hidden.ics"},
        ),
        ("/office/accounts/user/1/change/", {"name": "hidden"}),
        ("/me/", {"name": "Noor", "password": "hidden", "new_secret": "hidden"}),
    ],
)
def test_nothing_with_a_secret_is_kept(
    school: School, address: str, said: dict[str, str], monkeypatch: Any
) -> None:
    """No password, no calendar's secret address, nothing of the office; not even for a moment."""
    sealed: list[str] = []
    plain = kept_forms.seal
    monkeypatch.setattr(kept_forms, "seal", lambda text, to: sealed.append(text) or plain(text, to))
    client = signed_in(school.noor.user)
    send_late(client, school.noor.user, address, said)
    assert not any(secret in text for text in sealed for secret in ("hidden", PASSWORD))


def test_a_stranger_s_form_is_not_kept(school: School) -> None:
    """Only a browser in which somebody has signed in before has anything to keep."""
    guest, page = Client(), intake_of(school)
    guest.post(page, {"question_1": QUESTION})
    sign_in(guest, school.noor.user)
    assert QUESTION not in text_of(guest.get(page))


def test_a_form_without_a_page_of_its_own_leads_back_to_its_page(school: School) -> None:
    """After signing in nobody lands on an address that only takes forms."""
    ilse = signed_in(school.ilse.user)
    said = {"extra-on": "2027-03-17", "extra-opens": "10:00", "extra-closes": "11:00"}
    led = send_late(ilse, school.ilse.user, "/hours/", said, "/hours/extra/")
    assert led.url == "/accounts/login/?next=/hours/"
    sign_in(ilse, school.ilse.user)
    assert 'value="10:00"' in text_of(ilse.get("/hours/"))
