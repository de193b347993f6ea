"""`manage.py createsuperuser`: the first admin has a clock of their own."""

import getpass
from collections.abc import Iterator

import pytest
from django.core.management import CommandError, call_command

from accounts.models import User
from tests.cast import PASSWORD

pytestmark = pytest.mark.django_db
WHO = {"email": "dag@rowanmere.example", "name": "Dag Emberley"}


class Terminal:
    """Somebody sits at it."""

    def isatty(self) -> bool:
        return True


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> list[str]:
    """What the command asks, while these lines are typed."""
    answers: Iterator[str] = iter(lines)
    asked: list[str] = []

    def ask(prompt: str) -> str:
        asked.append(prompt)
        return next(answers)

    monkeypatch.setattr("builtins.input", ask)
    monkeypatch.setattr(getpass, "getpass", lambda *_: PASSWORD)
    call_command("createsuperuser", stdin=Terminal(), verbosity=0)
    return asked


def test_the_first_admin_is_asked_for_their_zone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name that is no zone is asked again; an older name is stored as the one of today."""
    lines = (*WHO.values(), "Dublin", "US/Eastern")
    asked = typed(monkeypatch, *lines)
    assert asked[-2:] == ["Time zone, such as Europe/Dublin: "] * 2
    assert "This is not an IANA time zone." in capsys.readouterr().err
    dag = User.objects.get()
    assert (dag.email, dag.name, dag.zone) == (*WHO.values(), "America/New_York")
    assert dag.is_superuser


@pytest.mark.parametrize("zone", [None, "Dublin", "localtime"])
def test_without_a_zone_nobody_is_made(zone: str | None) -> None:
    """Nothing is guessed: UTC would be right for nearly nobody."""
    with pytest.raises(CommandError):
        call_command("createsuperuser", interactive=False, time_zone=zone, verbosity=0, **WHO)
    assert not User.objects.exists()


@pytest.mark.parametrize("typed", ["dag@märsh.example", "Dag@XN--MRSH-LOA.Example"])
def test_the_address_is_stored_as_people_sign_in_with_it(typed: str) -> None:
    """Whichever way its domain was typed."""
    who = {**WHO, "email": typed, "time_zone": "Europe/Dublin"}
    call_command("createsuperuser", interactive=False, verbosity=0, **who)
    assert User.objects.get().email == "dag@märsh.example"
