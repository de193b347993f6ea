"""What ends a session, a token and a feed: a new role, and a closed account."""

import pytest

from accounts.sessions import end_sessions_and_tokens, tokens
from bookings.models import AuditRow, Feed
from bookings.operations.closing import shut_out
from bookings.operations.invitations import come_in, invite
from tests.cast import NOW
from tests.functional.pages.school import School, as_user
from tests.functional.pages.sessions import is_let_in, reads_me, token_of
from tests.functional.pages.welcome import secret_of


def test_ending_sessions_and_tokens_ends_those_of_one_person(school: School) -> None:
    """Every browser and program of theirs is signed out at once; nobody else's is."""
    noors, others = [as_user(school.noor.user), as_user(school.noor.user)], as_user(school.hedda)
    token, another = token_of(school.noor.user), token_of(school.hedda)
    assert all(reads_me(client) for client in (*noors, others))
    end_sessions_and_tokens(school.noor.user)
    assert [reads_me(client) for client in noors] == [False, False]
    assert not is_let_in(token)
    assert reads_me(others)
    assert is_let_in(another)
    assert reads_me(as_user(school.noor.user))


@pytest.mark.parametrize("role", ["as_instructor", "as_admin"])
def test_a_new_role_ends_the_sessions_and_tokens_from_before_it(school: School, role: str) -> None:
    """A browser or program that signed in as a guardian does not wake up as an instructor or admin.

    Source: OWASP Session Management Cheat Sheet, renewal after any privilege level change.
    """
    before, token = as_user(school.hedda), token_of(school.hedda)
    invite(actor=school.dag, email=school.hedda.email, name="Hedda", now=NOW, **{role: True})
    secret = secret_of("welcome").split("/")[2]
    come_in(secret=secret, name="Hedda", time_zone="Australia/Sydney", password="", now=NOW)
    assert not reads_me(before)
    assert not is_let_in(token)


def test_becoming_a_guardian_ends_nothing(school: School) -> None:
    """A role that reads no other family's records leaves a student signed in."""
    before = as_user(school.noor.user)
    invite(
        actor=school.dag, email=school.noor.user.email, name="N", guardian_of=school.posy, now=NOW
    )
    secret = secret_of("welcome").split("/")[2]
    come_in(secret=secret, name="N", time_zone="America/New_York", password="", now=NOW)
    assert reads_me(before)


def test_shutting_out_is_for_good(school: School) -> None:
    """An account that is deactivated and activated again has none of its sessions, tokens and feeds
    back.

    Source: OWASP ASVS 5.0.0, V7.4.2.
    """
    user = school.noor.user
    browser, token = as_user(user), token_of(user)
    browser.post("/calendars/", {"label": "Phone"})
    shut_out(actor=school.dag, user=user, now=NOW)
    for is_active in (False, True):
        user.is_active = is_active
        user.save(update_fields=["is_active"])
        assert not reads_me(browser)
        assert not is_let_in(token)
        assert not Feed.objects.filter(revoked_at__isnull=True).exists()
    assert not tokens().filter(user=user).exists()
    assert AuditRow.objects.filter(verb="revoked feed", actor=school.dag).count() == 1
