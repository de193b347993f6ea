"""What happens at Rowanmere in the weeks around the demo's first day: offerings, meetings and notes, all invented."""

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
class Group:
    """A group meeting on a weekday (0 is Monday), `weeks` after this one, at a wall time of its instructor."""

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
    Group(
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
    Group(
        "Reading two staves at once",
        "Studio class",
        people.ILSE,
        1,
        4,
        time(18, 30),
        6,
        (people.FERGUS, people.LARK, people.LIA, people.AMARO),
    ),
    Group(
        "A breath before the phrase",
        "Studio class",
        people.ILSE,
        2,
        5,
        time(9),
        5,
        (people.POSY, people.TOVA, people.REI),
    ),
    Group(
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


@dataclass(frozen=True, slots=True)
class Note:
    """An assessment written `days` ago; a draft where it is not released. `bands` run from 1 to 4."""

    student: Adult | Child
    author: Teaching
    level: int
    unit: int
    days: int
    obstacle: str
    next_step: str
    goal: str
    bands: tuple[tuple[str, int], ...] = ()
    strengths: str = ""
    practice_plan: str = ""
    private_remarks: str = ""
    released: bool = True


NOTES = (
    Note(
        people.NOOR,
        people.WREN,
        people.NOOR.level,
        1,
        40,
        "The fourth finger arrives late and the chord breaks.",
        "Place all four fingers before any of them plays.",
        "Ten placed chords in a row at 60, none of them broken.",
        (("placing", 2), ("tone", 3), ("rhythm", 3)),
        "A round tone in the middle of the harp, even when tired.",
        "Fifteen minutes a day: five of placing without sound, five of chords at 50, five of the study.",
        "Plays faster when watched; start the next meeting with something slow.",
    ),
    Note(
        people.MARLO,
        people.WREN,
        people.MARLO.level,
        people.MARLO.unit,
        2,
        "The thumb does not close, so the next string buzzes.",
        "Close the thumb over the hand after each note, slowly.",
        "Study 3 in F at 66 without a buzz.",
        (("finger closing", 2), ("reading", 3)),
        "Reads ahead, and knows where the phrase is going.",
        "Twenty minutes a day: thumbs alone on four strings, then the study at half speed.",
    ),
    Note(
        people.IMOGEN,
        people.ILSE,
        people.IMOGEN.level,
        people.IMOGEN.unit,
        25,
        "The pulse stops where a lever changes.",
        "Count aloud through the two bars around each lever.",
        "The first page in one pulse at 72.",
        (("levers and pedals", 2), ("rhythm", 2), ("tone", 4)),
        "The tone is warm and never forced.",
    ),
    Note(
        people.POSY,
        people.ILSE,
        people.POSY.level,
        people.POSY.unit,
        18,
        "The harp leans away when the left hand reaches down.",
        "Sit a hand's width closer and let the harp come to the shoulder.",
        "The boat song with both feet on the floor.",
        (("posture", 2), ("memory", 4)),
        "Learns by ear within minutes.",
    ),
    Note(
        people.JUNIPER,
        people.WREN,
        people.JUNIPER.level,
        people.JUNIPER.unit,
        32,
        "Low strings ring on under the new harmony.",
        "Damp the bass with the flat left hand on each change of harmony.",
        "The nocturne's middle part with a clean bass.",
        (("damping", 2), ("memory", 3), ("ease", 2)),
    ),
    Note(
        people.MARLO,
        people.ILSE,
        people.MARLO.level,
        people.MARLO.unit,
        1,
        "Looks at both hands in turn and loses the place.",
        "",
        "",
        released=False,
    ),
)
