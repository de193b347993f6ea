"""The assessments of Rowanmere. All are invented."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.demo import people
from bookings.demo.people import Adult, Child, Teaching
from bookings.domain.practice import PracticeItem
from bookings.operations.note_text import NoteText
from bookings.operations.notes import release_assessment, write_assessment


@dataclass(frozen=True, slots=True)
class Note:
    """An assessment written `days` ago. `bands` run from 1 to 4."""

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
    practice: tuple[PracticeItem, ...] = ()
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
        (
            PracticeItem(what="Placing without sound", minutes=5),
            PracticeItem(what="Chords at 50", minutes=5),
            PracticeItem(what="The study of last month", minutes=5, is_review=True),
        ),
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
        (
            PracticeItem(what="Thumbs alone on four strings", minutes=8),
            PracticeItem(what="The study at half speed", minutes=12),
        ),
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
        (
            PracticeItem(what="The boat song, left hand", minutes=5),
            PracticeItem(what="The song of last month", minutes=5, is_review=True),
        ),
    ),
    Note(
        people.TOVA,
        people.ILSE,
        people.TOVA.level,
        people.TOVA.unit,
        27,
        "The fingers are placed one by one, so the chord never sounds together.",
        "Place the whole chord, breathe, then play.",
        "Eight chords in a row at 54, all of them together.",
        (("placing", 2), ("tone", 3)),
        "Hears at once which note was late.",
        (
            PracticeItem(what="Placed chords without sound", minutes=6),
            PracticeItem(what="Study 3 in F, hands apart", minutes=10),
            PracticeItem(what="The air of last term", minutes=6, is_review=True),
        ),
    ),
    Note(
        people.ISHANI,
        people.WREN,
        people.ISHANI.level,
        people.ISHANI.unit,
        29,
        "The pulse runs away in the easy bars.",
        "Say the beat aloud through the easy bars, and play only half of them.",
        "Study 5 in C in one pulse at 60.",
        (("rhythm", 2), ("reading", 4)),
        "Reads far ahead, and shapes long lines.",
        (
            PracticeItem(what="Study 5, the easy bars at 50", minutes=10),
            PracticeItem(what="Scales in sixths", minutes=10),
            PracticeItem(what="Study 4 from memory", minutes=8, is_review=True),
        ),
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


def write(note: Note, *, author: Instructor, admin: User, student: Student, now: datetime) -> None:
    """Writes the note on its day. An admin does: the lessons lie too far back for its author."""
    written_at = now - timedelta(days=note.days)
    text = NoteText(
        level=note.level,
        unit=note.unit,
        bands=dict(note.bands),
        strengths=note.strengths,
        obstacle=note.obstacle,
        next_steps=[note.next_step],
        goal=note.goal,
        practice=note.practice,
        private_remarks=note.private_remarks,
    )
    draft = write_assessment(
        actor=admin, author=author, student_id=student.pk, text=text, now=written_at
    )
    if note.released:
        release_assessment(actor=admin, note=draft, now=written_at)
