"""The ledgers of the fault runs can fail: a made-up ledger with one thing wrong is told of, and a
right one is not.
"""

from dataclasses import replace

import pytest

from tests.races.faults.ledgers import Ack, Final, Intended, Mail, Row, lost_writes, wrong_mails

NINE, TEN = "2027-03-05T09:00:00+00:00", "2027-03-05T10:00:00+00:00"
ACKS = [
    Ack("a", "book", 1, 7, NINE),
    Ack("b", "move", 1, 7, TEN),
    Ack("c", "book", 2, 8, NINE),
    Ack("d", "cancel", 2, 8, NINE),
    Ack("e", "wait", 4, 8, ""),
]
ROWS = {1: Row(7, TEN, "HELD", 2), 2: Row(8, NINE, "ENDED", 2), 3: Row(8, TEN, "OFFERED", 1)}


def test_a_ledger_that_agrees_is_silent() -> None:
    """Booked and moved, booked and cancelled, waiting, and an offer that nobody has answered:
    nothing is wrong.
    """
    assert lost_writes(ACKS, ROWS, [4]) == []


@pytest.mark.parametrize("missing", [1, 2])
def test_an_acknowledged_booking_that_is_not_there_is_reported(missing: int) -> None:
    """One acknowledged key without its row is one loss, and it names the booking."""
    (fault,) = lost_writes(ACKS, {pk: row for pk, row in ROWS.items() if pk != missing}, [4])
    assert (fault.kind, f"booking {missing} " in fault.text) == ("acked-lost", True)


@pytest.mark.parametrize(
    "wrong",
    [
        {1: Row(7, NINE, "HELD", 1)},
        {1: Row(7, TEN, "HELD", 3)},
        {2: Row(8, NINE, "HELD", 1)},
        {5: Row(8, NINE, "HELD", 1)},
    ],
)
def test_a_change_that_was_lost_or_done_twice_is_reported(wrong: dict[int, Row]) -> None:
    """The old start after a move, one change too many, a cancellation undone, a booking that nobody
    was told of.
    """
    assert [fault.kind for fault in lost_writes(ACKS, ROWS | wrong, [4])] == ["acked-lost"]


@pytest.mark.parametrize("waiting", [[], [4, 5]])
def test_a_waiting_place_lost_or_doubled_is_reported(waiting: list[int]) -> None:
    """The acknowledged place in a queue is there, and no second one."""
    assert [fault.kind for fault in lost_writes(ACKS, ROWS, waiting)] == ["acked-lost"]


def test_one_row_for_two_waiting_keys_is_reported() -> None:
    """Two keys are two writes: they cannot have been answered with the same waiting place."""
    assert [
        fault.kind for fault in lost_writes([*ACKS, Ack("f", "wait", 4, 8, "")], ROWS, [4])
    ] == ["acked-lost"]


NOOR, ILSE = "noor@rowanmere.example", "ilse@rowanmere.example"
FIRST = Mail("<1@x>", NOOR, "Booked.", "uid-1", 0, "20270301T090000Z", "REQUEST", "20270305T090000")
MOVED = Mail("<2@x>", NOOR, "Moved.", "uid-1", 1, "20270301T100000Z", "REQUEST", "20270305T100000")
ENDED = Mail(
    "<3@x>", ILSE, "Cancelled.", "uid-1", 2, "20270301T110000Z", "CANCEL", "20270305T100000"
)
PLAIN = Mail("<4@x>", ILSE, "Somebody has left the class.")
MAILS = [FIRST, FIRST, MOVED, ENDED, PLAIN]
INTENDED = [
    Intended("<1@x>", NOOR, "invitation meeting:1 sequence:0", "sent"),
    Intended("<2@x>", NOOR, "invitation meeting:1 sequence:1", "sent"),
    Intended("<3@x>", ILSE, "cancellation meeting:1 sequence:2", "sent"),
    Intended("<4@x>", ILSE, "told meeting:2 left", "sent"),
    Intended("<5@x>", ILSE, "invitation meeting:1 sequence:1", "superseded"),
]
FINALS = {
    (NOOR, "uid-1"): Final("REQUEST", "20270305T100000", 1),
    (ILSE, "uid-1"): Final("CANCEL", "", 2),
}


def test_mails_that_agree_are_silent() -> None:
    """A mail that came again unchanged, and a superseded one that never came, are as they should
    be.
    """
    assert wrong_mails(MAILS, INTENDED, FINALS) == []


def test_a_lost_mail_is_reported() -> None:
    """One message whose row says sent, and which never arrived."""
    assert [
        fault.kind
        for fault in wrong_mails([mail for mail in MAILS if mail != PLAIN], INTENDED, FINALS)
    ] == ["mail-lost"]


@pytest.mark.parametrize("state", ["due", "given-up"])
def test_a_mail_that_still_waits_or_was_given_up_is_reported(state: str) -> None:
    """At the end every intended message has left, even where a copy of it arrived."""
    assert [
        fault.kind
        for fault in wrong_mails(MAILS, [*INTENDED[1:], replace(INTENDED[0], state=state)], FINALS)
    ] == ["mail-lost"]


def test_two_mails_for_one_state_are_reported() -> None:
    """Another Message-ID with the same recipient, UID and SEQUENCE is the same news twice; so is
    another for the same row's state.
    """
    twin = replace(MOVED, message_id="<6@x>")
    intended = [*INTENDED, Intended("<6@x>", NOOR, "invitation meeting:1 sequence:1", "sent")]
    assert [fault.kind for fault in wrong_mails([*MAILS, twin], intended, FINALS)] == [
        "mail-doubled"
    ]


@pytest.mark.parametrize(
    "change",
    [{"stamp": "20270301T090500Z"}, {"sequence": 1}, {"uid": "uid-2"}, {"text": "Booked again."}],
)
def test_a_resend_that_differs_is_reported(change: dict[str, str | int]) -> None:
    """The same Message-ID with another DTSTAMP, SEQUENCE, UID or text (RFC 5545 section 3.8.7: they
    tell states apart).
    """
    assert [
        fault.kind for fault in wrong_mails([*MAILS, replace(FIRST, **change)], INTENDED, FINALS)
    ] == ["mail-doubled"]


def test_mails_out_of_order_are_reported() -> None:
    """SEQUENCE 1 before SEQUENCE 0: it went down, and the last mail is not what the tables say."""
    faults = wrong_mails([MOVED, FIRST, ENDED, PLAIN], INTENDED, FINALS)
    assert [fault.kind for fault in faults] == ["mail-disordered", "mail-disordered"]


def test_a_last_mail_that_is_not_the_final_state_is_reported() -> None:
    """The tables say 11:00 and the last mail 10:00."""
    finals = FINALS | {(NOOR, "uid-1"): Final("REQUEST", "20270305T110000", 1)}
    assert [fault.kind for fault in wrong_mails(MAILS, INTENDED, finals)] == ["mail-disordered"]


def test_a_mail_that_nobody_intended_is_reported() -> None:
    """A Message-ID without a row is news of work that was rolled back."""
    assert [
        fault.kind
        for fault in wrong_mails([*MAILS, replace(PLAIN, message_id="<9@x>")], INTENDED, FINALS)
    ] == ["mail-disordered"]
