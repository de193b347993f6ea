"""The people of Rowanmere Online Harp School. Everybody here is invented."""

from dataclasses import dataclass
from datetime import date

SCHOOL = "Rowanmere Online Harp School"
PASSWORD = "slow-practice-first"
"""The same for everybody, so that anybody can look at the school. Production refuses it."""


def email_of(name: str) -> str:
    """The email address for a name."""
    return name.lower().replace("-", ".").replace(" ", ".") + "@rowanmere.example"


@dataclass(frozen=True, slots=True)
class Adult:
    """A person who signs in: a name and an IANA zone."""

    name: str
    time_zone: str

    @property
    def email(self) -> str:
        return email_of(self.name)


@dataclass(frozen=True, slots=True)
class Teaching(Adult):
    """An instructor: their week in their own zone, and what they teach at which levels."""

    hours: tuple[str, ...]
    offerings: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, slots=True)
class Learning(Adult):
    """An adult student at a level and a unit within it."""

    level: int
    unit: int


@dataclass(frozen=True, slots=True)
class Child:
    """A minor. The guardian acts and gets the emails; their consent may be on file."""

    name: str
    time_zone: str
    level: int
    unit: int
    adult_on: date
    guardian: Adult
    consent: bool


DAG = Adult("Dag Emberley", "Europe/Dublin")

ILSE = Teaching(
    "Ilse Quarrow",
    "Europe/Dublin",
    ("Mon 15:30-20:30", "Tue 09:00-12:00", "Wed 15:30-20:30", "Thu 09:00-12:00", "Fri 14:00-18:00"),
    (
        ("Consultation", 1, 10),
        ("Long consultation", 1, 10),
        ("Private lesson", 1, 10),
        ("Studio class", 1, 10),
        ("Masterclass", 3, 10),
    ),
)
WREN = Teaching(
    "Wren Halloway",
    "America/New_York",
    ("Mon 10:00-14:00", "Tue 16:00-20:00", "Wed 10:00-14:00", "Thu 16:00-20:00", "Sat 09:00-12:00"),
    (
        ("Consultation", 1, 8),
        ("Long consultation", 1, 8),
        ("Private lesson", 1, 8),
        ("Studio class", 1, 8),
    ),
)
TENZIN = Teaching(
    "Tenzin Orlo",
    "Asia/Kathmandu",
    ("Mon 07:00-11:00", "Wed 07:00-11:00", "Wed 17:00-20:00", "Fri 07:00-11:00", "Sun 14:00-18:00"),
    (("Consultation", 1, 6), ("Private lesson", 1, 6), ("Studio class", 1, 6)),
)
# Without hours, which are published in the story.
BRAM = Teaching(
    "Bram Tolliver",
    "Australia/Lord_Howe",
    (),
    (("Consultation", 1, 10), ("Long consultation", 1, 10)),
)
INSTRUCTORS = (ILSE, WREN, TENZIN, BRAM)

NOOR = Learning("Noor Ashgrove", "America/New_York", 4, 2)
MARLO = Learning("Marlo Vance", "America/New_York", 3, 5)
IMOGEN = Learning("Imogen Tarrant-Lowe", "Europe/London", 5, 1)
FERGUS = Learning("Fergus Quillan", "America/St_Johns", 6, 3)
AMARO = Learning("Amaro Villaseca", "America/Santiago", 2, 4)
YARA = Learning("Yara Benslimane", "Africa/Casablanca", 3, 1)
LIA = Learning("Lia Montebravo", "America/Sao_Paulo", 5, 6)
JUNIPER = Learning("Juniper Stahl", "America/Vancouver", 7, 2)
KAI = Learning("Kai Everhollow", "Pacific/Honolulu", 1, 3)
ISHANI = Learning("Ishani Velkar", "Asia/Kolkata", 4, 5)
ASMI = Learning("Asmi Lohanti", "Asia/Kathmandu", 2, 1)
REI = Learning("Rei Kuzumori", "Asia/Tokyo", 8, 1)
TOVA = Learning("Tova Sandringfold", "Australia/Lord_Howe", 3, 3)
MERRIN = Learning("Merrin Tuckwell", "Pacific/Chatham", 1, 6)
STUDENTS = (
    NOOR,
    MARLO,
    IMOGEN,
    FERGUS,
    AMARO,
    YARA,
    LIA,
    JUNIPER,
    KAI,
    ISHANI,
    ASMI,
    REI,
    TOVA,
    MERRIN,
)

HEDDA = Adult("Hedda Lindqvist-Reed", "Australia/Sydney")
ORSOLA = Adult("Orsola Penbrook", "Europe/London")
POSY = Child("Posy Lindqvist-Reed", "Australia/Sydney", 2, 1, date(2034, 6, 1), HEDDA, True)
LARK = Child("Lark Penbrook", "Europe/London", 3, 2, date(2031, 5, 20), ORSOLA, True)
# Nothing can be booked for this child, because no guardian has consented yet.
KIT = Child("Kit Penbrook", "Europe/London", 1, 4, date(2035, 9, 14), ORSOLA, False)
CHILDREN = (POSY, LARK, KIT)
