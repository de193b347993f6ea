"""The two ledgers, compared with what is there at the end: acknowledged writes with rows, intended
messages with mails.

Plain values only, so that a made-up ledger can be held against them too. A fault's kind is one of
FIGURES.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

FIGURES = {
    "acked-lost": "acked_lost",
    "overlap": "overlaps",
    "over-places": "over_places",
    "server-error": "server_errors",
    "mail-lost": "mails_lost",
    "mail-doubled": "mails_doubled",
    "mail-disordered": "mails_disordered",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is not as it must be."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Ack:
    """A write that a client was told is done. `thing` is the booking; for "wait" it is the waiting
    place.
    """

    key: str
    operation: str  # "book", "move", "cancel", "accept" or "wait"
    thing: int
    student: int
    starts_at: str


@dataclass(frozen=True, slots=True)
class Row:
    """A booking as it stands. Each change raises `version` by one."""

    student: int
    starts_at: str
    standing: str
    version: int


def lost_writes(
    acks: Sequence[Ack], rows: Mapping[int, Row], waiting: Collection[int]
) -> list[Fault]:
    """Each acknowledged write is in the tables exactly once, and nothing is there that nobody was
    told of.

    `acks` in the order of each client; `rows` and `waiting` are all bookings and waiting places of
    the clients' students. An offer that waits for its answer, and one that lapsed, are the
    product's own doing.
    """
    lost: list[str] = []
    keys: set[str] = set()
    of: dict[int, list[Ack]] = defaultdict(list)
    joined: set[int] = set()
    for ack in acks:
        if ack.key in keys:
            lost.append(f"the key {ack.key} was acknowledged twice by its own client")
        keys.add(ack.key)
        if ack.operation != "wait":
            of[ack.thing].append(ack)
        elif ack.thing in joined:
            lost.append(f"two keys were answered with waiting place {ack.thing}")
        else:
            joined.add(ack.thing)
    for booking, said in of.items():
        lost += _one_booking(booking, said, rows.get(booking))
    lost += _waiting_places(joined, set(waiting))
    lost += [
        f"booking {booking} is held and nobody was told: a write was done twice"
        for booking, row in rows.items()
        if booking not in of and row.standing == "HELD"
    ]
    return [Fault("acked-lost", text) for text in lost]


def _waiting_places(told: set[int], there: set[int]) -> list[str]:
    return [
        *(f"waiting place {n} was acknowledged and is not there" for n in sorted(told - there)),
        *(f"waiting place {n} is there and nobody was told" for n in sorted(there - told)),
    ]


def _one_booking(booking: int, acks: Sequence[Ack], row: Row | None) -> list[str]:
    said = ", ".join(ack.operation for ack in acks)
    if row is None:
        return [f"booking {booking} ({said}) was acknowledged and is not there"]
    last = acks[-1]
    standing = "ENDED" if last.operation == "cancel" else "HELD"
    changes = sum(ack.operation != "book" for ack in acks)
    expected = Row(last.student, last.starts_at, standing, 1 + changes)
    if row == expected:
        return []
    return [f"booking {booking} ({said}) should be {expected} and is {row}"]


@dataclass(frozen=True, slots=True)
class Mail:
    """A mail as it arrived. `uid` is empty without a calendar part; `start` is DTSTART's wall time
    as it stands there.
    """

    message_id: str
    recipient: str
    text: str
    uid: str = ""
    sequence: int = 0
    stamp: str = ""
    method: str = ""
    start: str = ""


@dataclass(frozen=True, slots=True)
class Intended:
    """A row of the outbox that was due: who is to read what, in which state, and where the row
    stands.
    """

    message_id: str
    recipient: str
    about: str  # kind, thing and state of the thing
    state: str  # "due", "sent", "superseded" or "given-up"


@dataclass(frozen=True, slots=True)
class Final:
    """What somebody's calendar must show of a meeting in the end: REQUEST with its start, or
    CANCEL.
    """

    method: str
    start: str
    sequence: int


def wrong_mails(
    arrived: Sequence[Mail], intended: Sequence[Intended], finals: Mapping[tuple[str, str], Final]
) -> list[Fault]:
    """Every intended message arrived, none in two guises, in order, the last as the tables stand,
    and none that nobody intended.

    `arrived` in order; a message that came again counts where it came first. `finals` by recipient
    and UID (RFC 5546 sections 2.1.4 and 2.1.5: the same UID, a SEQUENCE that never goes down).
    """
    first: dict[str, Mail] = {}
    faults = []
    for mail in arrived:
        if first.setdefault(mail.message_id, mail) != mail:
            faults.append(
                Fault(
                    "mail-doubled",
                    (
                        f"{mail.message_id} came again and was not the same: "
                        f"{_differs(first[mail.message_id], mail)}"
                    ),
                )
            )
    known = {row.message_id: row for row in intended}
    faults += [
        Fault("mail-disordered", f"{key} arrived and nobody intended it")
        for key in first
        if key not in known
    ]
    faults += [
        Fault("mail-lost", f"{row.message_id} ({row.state}) to {row.recipient} never arrived")
        for row in intended
        if row.message_id not in first and row.state != "superseded"
    ]
    faults += [
        Fault("mail-lost", f"{row.message_id} stands at {row.state}")
        for row in intended
        if row.state in ("due", "given-up")
    ]
    return faults + _doubled(first, known) + _disordered(list(first.values()), finals)


def _differs(one: Mail, other: Mail) -> str:
    return ", ".join(name for name in Mail.__slots__ if getattr(one, name) != getattr(other, name))


def _doubled(first: Mapping[str, Mail], known: Mapping[str, Intended]) -> list[Fault]:
    of_state: dict[tuple[Any, ...], set[str]] = defaultdict(set)
    for key, mail in first.items():
        if mail.uid:
            of_state[mail.recipient, mail.uid, mail.sequence].add(key)
        if key in known:
            of_state[mail.recipient, known[key].about].add(key)
    found = {frozenset(keys): state for state, keys in of_state.items() if len(keys) > 1}
    return [
        Fault("mail-doubled", f"{sorted(keys)} tell one state: {state}")
        for keys, state in found.items()
    ]


def _disordered(mails: Sequence[Mail], finals: Mapping[tuple[str, str], Final]) -> list[Fault]:
    faults = []
    last: dict[tuple[str, str], Mail] = {}
    for mail in mails:
        if mail.uid:
            before = last.get((mail.recipient, mail.uid))
            if before is not None and mail.sequence < before.sequence:
                faults.append(
                    Fault(
                        "mail-disordered",
                        f"{mail.message_id} came after SEQUENCE {before.sequence}",
                    )
                )
            last[mail.recipient, mail.uid] = mail
    for whose, final in finals.items():
        found = last.get(whose)
        told = (
            Final(found.method, "" if found.method == "CANCEL" else found.start, found.sequence)
            if found
            else None
        )
        if told != final:
            faults.append(
                Fault("mail-disordered", f"{whose}: the last mail says {told}, the tables {final}")
            )
    return faults
