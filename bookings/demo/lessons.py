"""The offerings and meetings of Rowanmere around the demo's first day. All are invented."""

from dataclasses import dataclass
from datetime import time

from bookings.demo import people
from bookings.demo.people import Adult, Child, Teaching
from bookings.domain.vocabulary import Grid, Kind

# name, kind, minutes, grid, in a sentence
OFFERINGS = (
    (
        "Consultation",
        Kind.CONSULTATION,
        25,
        Grid.CLOCK,
        "One obstacle, heard and named, and the next step past it.",
    ),
    (
        "Long consultation",
        Kind.CONSULTATION,
        50,
        Grid.CLOCK,
        "Your whole technique, from how you sit to how you listen.",
    ),
    (
        "Private lesson",
        Kind.PRIVATE_LESSON,
        45,
        Grid.WINDOW,
        "A lesson on what you are playing now.",
    ),
    (
        "Studio class",
        Kind.GROUP_MEETING,
        60,
        Grid.CLOCK,
        "A few students on one theme, each with an instrument at hand.",
    ),
    (
        "Masterclass",
        Kind.MASTERCLASS,
        90,
        Grid.CLOCK,
        "Players work in turn; listeners follow with the score.",
    ),
)


@dataclass(frozen=True, slots=True)
class PlannedGroup:
    """A group meeting on a weekday (0 is Monday) after so many weeks, in its instructor's zone."""

    title: str
    offering: str
    instructor: Teaching
    weeks: int
    weekday: int
    at: time
    places: int
    players: tuple[Adult | Child, ...]
    listener_places: int = 0
    listeners: tuple[Adult | Child, ...] = ()
    waiting: tuple[Adult | Child, ...] = ()


GROUPS = (
    PlannedGroup(
        "Left hand alone, then together",
        "Studio class",
        people.TENZIN,
        1,
        5,
        time(16),
        3,
        (people.ISHANI, people.ASMI, people.YARA),
        waiting=(people.TOVA, people.IMOGEN),
    ),
    PlannedGroup(
        "Reading two staves at once",
        "Studio class",
        people.ILSE,
        1,
        4,
        time(18, 30),
        6,
        (people.FERGUS, people.LARK, people.LIA, people.AMARO),
    ),
    PlannedGroup(
        "A breath before the phrase",
        "Studio class",
        people.ILSE,
        2,
        5,
        time(9),
        5,
        (people.POSY, people.TOVA, people.REI),
    ),
    PlannedGroup(
        "Four studies in three-four",
        "Masterclass",
        people.ILSE,
        2,
        5,
        time(16),
        4,
        (people.NOOR, people.JUNIPER, people.FERGUS, people.LIA),
        8,
        (people.MARLO, people.IMOGEN, people.YARA),
        waiting=(people.IMOGEN, people.ISHANI),
    ),
)


@dataclass(frozen=True, slots=True)
class OneOnOne:
    """A one-on-one at the most humane start between two days counted from today."""

    student: Adult | Child
    offering: str
    instructor: Teaching
    days: tuple[int, int]
    questions: tuple[str, ...] = ()
    pieces: str = ""
    obstacle: str = ""


PAST = OneOnOne(
    people.MARLO,
    "Consultation",
    people.WREN,
    (-8, -3),
    ("Why do my thumbs buzz on the low strings?",),
    "Study 3 in F",
    "The thumb stays on the string after it has played.",
)
AHEAD = (
    OneOnOne(
        people.IMOGEN,
        "Consultation",
        people.ILSE,
        (2, 7),
        ("Which finger leads in bar 12?", "May I leave out the low octave for now?"),
        "Waltz by candlelight, first page",
        "I lose the pulse where the levers change.",
    ),
    OneOnOne(
        people.ISHANI,
        "Consultation",
        people.TENZIN,
        (2, 9),
        ("How slow is slow enough?",),
        "Study 5 in C",
    ),
    OneOnOne(
        people.JUNIPER,
        "Long consultation",
        people.WREN,
        (2, 9),
        (),
        "Nocturne in E flat",
        "My shoulders rise before loud chords.",
    ),
    OneOnOne(people.KAI, "Private lesson", people.WREN, (2, 10), (), "Five notes, five fingers"),
    OneOnOne(
        people.POSY,
        "Private lesson",
        people.TENZIN,
        (2, 10),
        ("Can I show you the song I made?",),
        "The boat song",
    ),
    OneOnOne(people.AMARO, "Private lesson", people.ILSE, (8, 15), (), "Study 2 in G"),
)
