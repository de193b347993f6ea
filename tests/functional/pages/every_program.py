"""The pages about other programs, as an admin sees them with one of everything."""

from datetime import timedelta

from accounts.models import digest, new_secret
from bookings.domain.events import Event
from bookings.domain.scopes import Scope
from bookings.domain.standard_webhooks import new_signing_secret
from bookings.models import ServiceToken, Webhook
from tests.cast import NOW
from tests.functional.pages.school import School

PROGRAMS = (
    "programs",
    "new-token",
    "revoke-token",
    "new-webhook",
    "webhook",
    "change-webhook",
    "webhook-secret",
    "remove-webhook",
    "test-webhook",
    "pause-webhook",
    "resume-webhook",
)
"""Their routes: nobody but an admin is let through."""


def one_token(school: School) -> ServiceToken:
    """A token of a program that reads."""
    return ServiceToken.objects.create(
        name="Reception desk",
        digest=digest(new_secret()),
        begins="levare_aB3xY",
        scopes=[scope.value for scope in Scope],
        made_by=school.dag,
        made_at=NOW,
        expires_at=NOW + timedelta(days=30),
    )


def one_webhook(**fields: object) -> Webhook:
    """A webhook that has been told well and ill."""
    hook = Webhook(
        name="Accounting",
        address="https://books.rowanmere.example/told/by/the/school?of=everything",
        kinds=[Event.STATEMENT_ISSUED.value, Event.TERM_PUBLISHED.value],
        made_at=NOW,
        **fields,
    )
    hook.secret = new_signing_secret()
    hook.save()
    for number, (status, problem) in enumerate([(204, ""), (None, "slow"), (500, "status")], 1):
        hook.attempts.create(
            event_id=f"evt_{number}",
            kind="statement.issued" if number > 1 else "webhook.tested",
            number=number,
            at=NOW,
            status=status,
            problem=problem,
            milliseconds=40,
        )
    return hook


def program_pages(school: School) -> list[str]:
    """Those that a GET shows: one that answers, one that fails, one that was stopped."""
    one_token(school)
    good, failing = one_webhook(), one_webhook(failures=3, waits_until=NOW)
    stopped = one_webhook(paused_at=NOW, paused_why="given-up")
    told = f"/programs/told/{good.pk}/"
    return [
        "/programs/",
        "/programs/tokens/new/",
        f"/programs/tokens/{one_token(school).pk}/revoke/",
        "/programs/told/new/",
        told,
        f"{told}change/",
        f"{told}secret/",
        f"{told}remove/",
        f"/programs/told/{failing.pk}/",
        f"/programs/told/{stopped.pk}/",
    ]
