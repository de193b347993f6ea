"""Calendars made by number: the same number gives the same calendar, so one that fails can be made again by itself."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from random import Random
from uuid import UUID
from zoneinfo import available_timezones

from bookings.calendars.events import CalendarEvent, Party
from bookings.calendars.feeds import feed
from bookings.calendars.invitations import cancel, request
from tests import profiles
from tests.unit.calendars_samples import CHANGES, SCHOOL

COUNT = {"ci": 1000, "long": 10_000}.get(profiles.NAME, 100)
ZONES = sorted(available_timezones() - {"localtime", "Factory"})
FIRST = datetime(2025, 1, 1, tzinfo=UTC)
DAYS = 7 * 365
SECOND = timedelta(seconds=1)
# What a reader may trip over: structure, escapes, folds, line ends, controls, directions, joined and astral characters.
PIECES = [
    *'\\;,:"^=&<>%{}',
    "\\n",
    "\r\n",
    "\n",
    "\t",
    "\x00",
    "\x1b",
    "\x7f",
    "\x85",
    "\u2028",
    "\ufeff",
    "\u202e",
    "\u200d",
    "\ud800",
]
PIECES += [
    "a",
    "Étude",
    "дуэт",
    "琴",
    "🎵",
    "👩‍🎤",
    "e\u0301",
    " ",
    "  ",
    "\r\nATTENDEE:mailto:x@y.example",
    "END:VEVENT",
    "BEGIN:VALARM",
    "^n",
]


@dataclass(frozen=True, slots=True)
class Made:
    """A written file, its METHOD (None: a feed), its events as meant and in the order of the file, and who it is for."""

    written: bytes
    method: str | None
    events: list[CalendarEvent]
    recipient: Party | None
    whole: bool = True


def made(count: int = COUNT) -> Iterator[tuple[int, Made]]:
    """The first `count` calendars, each with its number."""
    for number in range(count):
        yield number, one(number)


def one(number: int) -> Made:
    """The calendar of that number: a feed of up to five meetings, a REQUEST, or a CANCEL of all or of one person."""
    random = Random(number)
    form = random.choice(["feed", "feed", "request", "request", "whole", "removal"])
    event = _event(random)
    recipient = Party(
        f"{random.choice(['noor', 'posy+harp', 'o%27', 'x!y'])}@rowanmere.example",
        _text(random, 30),
    )
    if form == "feed":
        events = [_event(random) for _ in range(random.randint(0, 5))]
        since = FIRST + timedelta(days=random.randrange(DAYS))
        written = feed(
            _text(random, 20), random.choice(ZONES), events, since, since + timedelta(days=90)
        )
        return Made(
            written, None, sorted(events, key=lambda event: (event.starts_at, event.uid)), None
        )
    if form == "request":
        event = replace(event, status=random.choice(["TENTATIVE", "CONFIRMED"]))
        return Made(
            request(event, SCHOOL, recipient, random.choice(["ACCEPTED", "NEEDS-ACTION"])),
            "REQUEST",
            [event],
            recipient,
        )
    whole = form == "whole"
    return Made(
        cancel(event, SCHOOL, recipient, whole),
        "CANCEL",
        [replace(event, status="CANCELLED")],
        recipient,
        whole,
    )


def _event(random: Random) -> CalendarEvent:
    if random.random() < 0.5:
        time_zone, change = random.choice(CHANGES)
        starts_at = change + random.randint(-7200, 7200) * SECOND
    else:
        time_zone = random.choice(ZONES)
        starts_at = FIRST + random.randrange(DAYS * 86400) * SECOND
    return CalendarEvent(
        uid=str(UUID(int=random.getrandbits(128), version=4)),
        sequence=random.choice([0, 1, 2, random.randrange(2**31)]),
        stamp=starts_at - random.randrange(10**7) * SECOND,
        starts_at=starts_at,
        ends_at=starts_at + random.randint(1, 5 * 3600) * SECOND,
        time_zone=time_zone,
        summary=_text(random, 60),
        description=_text(random, 200),
        status=random.choice(["TENTATIVE", "CONFIRMED", "CANCELLED"]),
        join_address=random.choice(
            [
                "",
                "https://meet.rowanmere.example/r/9f2c?a=1,2;b&c=%2C#é"
                + "x" * random.randrange(90),
            ]
        ),
    )


def _text(random: Random, longest: int) -> str:
    """Pieces that mean something to a reader, among any characters of Unicode at all."""
    length = random.randrange(longest)
    return "".join(
        random.choice(PIECES) if random.random() < 0.7 else chr(random.randrange(0x110000))
        for _ in range(length)
    )
