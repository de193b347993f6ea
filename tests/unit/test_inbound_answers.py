"""Reading a mailed answer in a process of its own: the same answer comes out, and no mail takes
more than it may.
"""

import resource
import signal
import subprocess
from typing import Any

import pytest

from bookings.calendars.ignoring import Ignored, WhyIgnored
from bookings.calendars.replies import read_reply
from bookings.domain.errors import Refused
from bookings.inbound import answers, children
from tests.unit.hostile_headers import IN_PARTS, PLAIN

ENVELOPE = {
    "to": "a@rowanmere.example",
    "sender": "b@rowanmere.example",
    "authserv_id": "mx.example",
}


def test_the_answer_comes_out_of_the_process_as_it_is() -> None:
    """Equal to what is read in this one; so is the reason of what is ignored."""
    for mail in (PLAIN.encode(), IN_PARTS.encode()):
        assert answers.read(mail, **ENVELOPE) == read_reply(mail, **ENVELOPE)
    with pytest.raises(Ignored) as ignored:
        answers.read(b"", **ENVELOPE)
    assert ignored.value.reason is WhyIgnored.NO_ANSWER


def test_a_mail_that_takes_too_long_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the limits on headers gone, the processor's own limit ends it within two seconds.
    Source: CWE-407.
    """
    code = (
        "from bookings.calendars import mail_headers, replies_child\n"
        "mail_headers.Meter.count = lambda *_: None\n"
        "replies_child.main()\n"
    )
    run = subprocess.run

    def unlimited(command: list[str], **how: Any) -> Any:
        return run([*command[:-2], "-c", code], **how)

    monkeypatch.setattr(children.subprocess, "run", unlimited)
    hostile = PLAIN.replace("method=REPLY", f"method=REPLY{';' * 60_000}").encode()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with pytest.raises(Ignored) as ignored:
        answers.read(hostile, **ENVELOPE)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert ignored.value.reason is WhyIgnored.TOO_MUCH
    assert used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime <= 2.1


def test_the_process_knows_no_secret(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its environment is empty, and nothing of the mail is in its command."""
    seen: dict[str, Any] = {}

    def run(command: list[str], **how: Any) -> Any:
        seen.update(how, command=command)
        return subprocess.CompletedProcess(command, -signal.SIGPROF, b"", b"")

    monkeypatch.setattr(children.subprocess, "run", run)
    with pytest.raises(Ignored):
        answers.read(PLAIN.encode(), **ENVELOPE)
    assert seen["env"] == {}
    assert not any("rowanmere" in word for word in seen["command"])


def test_a_machine_without_time_asks_for_it_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the wall clock nothing is lost: the mail server keeps the mail and tries again."""
    monkeypatch.setattr(children, "PATIENCE", 0.01)
    with pytest.raises(Refused) as refused:
        answers.read(PLAIN.encode(), **ENVELOPE)
    assert refused.value.code == "busy"
