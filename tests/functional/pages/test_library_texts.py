"""Every text of the account library is the school's own, or cannot be shown here.

The library's templates are walked, so that a new version with a new page, email or message is found
out. What can be shown is also opened page by page in test_pages_words.py.
"""

import ast
import re
from pathlib import Path

import allauth
from django.conf import settings
from django.template import TemplateDoesNotExist, TemplateSyntaxError, loader
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext, override
from django.utils.translation.template import templatize

from bookings.pages.account_emails import EVENTS
from tests.functional.library_emails import NEVER as EMAILS_NEVER
from tests.functional.pages.library_words import library_words

ROOT = Path(allauth.__file__).parent / "templates"
_TEXT = re.compile(r"gettext\(u?('(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")\)")
NEVER = {
    r"account/email/": "AccountEmails sends our own, or refuses: test_account_emails.py",
    r"mfa/email/": "as above",
    r"account/(base_)?confirm_\w*code\.html": "nobody gets a code by email",
    r"account/confirm_\w+_verification_code\.html": "addresses are not confirmed by a code",
    r"account/(email|email_change|email_confirm)\.html": "the library's page for addresses is shut",
    r"account/messages/(\w+_)?primary_email\w*\.txt": "as above",
    r"account/messages/(email_\w+|login_code_sent|phone_\w+)\.txt": "as above",
    r"account/(verification_sent|verified_email_required)\.html": "as above",
    r"account/phone_change\.html": "no phone numbers are kept",
    r"account/request_login_code\.html": "nobody signs in by a code in an email",
    r"account/(signup|signup_by_passkey)\.html": "people join by invitation",
    r"account/snippets/": "no template of ours includes them",
    r"mfa/webauthn/|mfa/messages/webauthn|mfa/authenticate\.html": "there are no security keys",
    r"mfa/messages/recovery_codes_generated\.txt": "a second sentence, where codes show once",
    r"mfa/totp/base\.html": "a block that our layout does not show",
    r"mfa/trust\.html": "no browser is trusted for a time",
}
"""Templates with a text of the library, and why nobody reads it."""


def source_of(name: str) -> str:
    """The template that is shown under this name: ours, where there is one."""
    try:
        return str(loader.get_template(name).template.source)
    except (TemplateDoesNotExist, TemplateSyntaxError):
        return (ROOT / name).read_text(encoding="utf-8")


def library_texts(name: str) -> list[str]:
    """The texts of the template that our catalogue does not replace."""
    found = [ast.literal_eval(text) for text in _TEXT.findall(templatize(source_of(name)))]
    return [said for said in found if library_words(f"<p>{gettext(said)}</p>")]


def test_every_text_of_the_library_is_ours_or_cannot_be_shown() -> None:
    """Each template with a stock sentence has a reason, and each reason has such a template."""
    names = [
        str(path.relative_to(ROOT))
        for app in ("account", "mfa")
        for path in (ROOT / app).rglob("*.*")
    ]
    with override("en"):
        stock = {name for name in names if library_texts(name)}
    assert len(names) > 100 and stock
    unexplained = [name for name in stock if not any(re.match(one, name) for one in NEVER)]
    assert unexplained == []
    idle = [one for one in NEVER if not any(re.match(one, name) for name in stock)]
    assert idle == []


def test_the_reasons_hold_in_our_settings() -> None:
    """What would show such a text is off, or has no address."""
    assert settings.ACCOUNT_EMAIL_VERIFICATION == "none"
    assert not getattr(settings, "MFA_TRUST_ENABLED", False)
    assert not getattr(settings, "MFA_RECOVERY_CODES_SHOW_ONCE", False)
    assert "webauthn" not in getattr(settings, "MFA_SUPPORTED_TYPES", ["recovery_codes", "totp"])
    for shut in (
        "account_request_login_code",
        "account_change_phone",
        "mfa_trust",
        "mfa_add_webauthn",
    ):
        try:
            reverse(shut)
        except NoReverseMatch:
            continue
        raise AssertionError(f"{shut} has an address")
    assert set(EVENTS).isdisjoint(EMAILS_NEVER)
