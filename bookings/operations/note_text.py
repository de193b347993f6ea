"""What a note says, and the columns that hold it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from bookings.domain import notes as rules
from bookings.domain.errors import Refused
from bookings.domain.practice import PracticeItem, check_items, items_of
from bookings.domain.techniques import check_bands
from bookings.domain.vocabulary import NoteForm
from bookings.domain.zones import zone
from bookings.models import Assessment
from bookings.queries.techniques import techniques_for


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteText:
    """What a note says.

    `level` and `unit` are those on record where they are None. `heard_on` is the date of the
    meeting on the author's clock where it is None, or today without a meeting that has begun.
    """

    form: str = NoteForm.ASSESSMENT
    level: int | None = None
    unit: int | None = None
    heard_on: date | None = None
    heard: Sequence[str] = ()
    bands: Mapping[str, int] = field(default_factory=dict)
    strengths: str = ""
    obstacle: str = ""
    next_steps: Sequence[str] = ()
    last_goal: str = ""
    goal: str = ""
    goal_on: date | None = None
    practice: Sequence[PracticeItem] = ()
    follow_up_weeks: int | None = None
    caution: str = ""
    private_remarks: str = ""

    @property
    def is_blank(self) -> bool:
        """Whether nothing is said, whatever the form, the level, the dates and the follow-up."""
        texts = (self.strengths, self.obstacle, self.last_goal, self.goal, self.caution)
        said = [*texts, self.private_remarks, *self.heard, *self.next_steps]
        return not (self.bands or self.practice or any(text.strip() for text in said))


def text_of(note: Assessment) -> NoteText:
    """What a note says now."""
    said = {name: getattr(note, name) for name in NoteText.__dataclass_fields__}
    return NoteText(**{**said, "practice": items_of(note.practice)})


def values_of(note: Assessment, text: NoteText, now: datetime) -> dict[str, Any]:
    """The columns that hold this text.

    Refused("invalid") with `field`, as domain.notes, domain.techniques and domain.practice refuse.
    """
    known = techniques_for(note.author, note.meeting)
    check_bands(text.bands, [*known, *set(note.bands).difference(known)])
    check_items(text.practice)
    level = note.student.level if text.level is None else text.level
    if not 1 <= level <= 10:
        raise Refused("invalid", "Levels run from 1 to 10.", field="level")
    today = now.astimezone(zone(note.author.user.zone)).date()
    heard_on = text.heard_on or _heard_on(note, now)
    rules.check_heard_on(heard_on, today=today, adult_on=note.student.adult_on)
    rules.check_goal_on(text.goal_on, heard_on)
    names = ("form", "strengths", "obstacle", "last_goal", "goal", "goal_on", "follow_up_weeks")
    return {
        **{name: getattr(text, name) for name in (*names, "caution", "private_remarks")},
        "level": level,
        "unit": note.student.unit if text.unit is None else text.unit,
        "heard_on": heard_on,
        "heard": rules.checked_heard(text.heard),
        "bands": dict(text.bands),
        "next_steps": rules.checked_steps(text.next_steps),
        "practice": [item.stored() for item in text.practice],
        "follow_up_on": rules.follow_up_on(heard_on, text.follow_up_weeks),
    }


def _heard_on(note: Assessment, now: datetime) -> date:
    """The date, on the author's clock, of the note's meeting; today if it has not begun."""
    heard_at = now if note.meeting is None else min(note.meeting.starts_at, now)
    return heard_at.astimezone(zone(note.author.user.zone)).date()
