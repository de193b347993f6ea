"""What is chosen for each meeting in hours that are cleared, as its form carries it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bookings.domain.clearing import Decision, Remedy
from bookings.domain.errors import Refused
from bookings.pages.parameters import read_instant
from bookings.pages.templatetags.formatting import day_and_time, utc
from bookings.queries.clearing_shown import Option, Options

_KNOWN = {remedy.value for remedy in Remedy}


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the radio buttons of a meeting."""

    value: str
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A meeting with its choices. `note` says what cannot be chosen, and why.

    `covers` and `moves_to` go with what is chosen now, so that what was shown is what is done.
    """

    option: Option
    choices: list[Choice]
    note: str
    covers: str
    moves_to: str


def chosen_in(sent: Mapping[str, str]) -> dict[int, Remedy]:
    """What the form chooses for each meeting."""
    return {
        int(name.removeprefix("do-")): Remedy(value)
        for name, value in sent.items()
        if name.startswith("do-") and _is_id(name.removeprefix("do-")) and value in _KNOWN
    }


def decisions_in(sent: Mapping[str, str]) -> list[Decision]:
    """The same with the substitutes and the new starts that the form showed."""
    found = []
    for pk, remedy in chosen_in(sent).items():
        covers, moves_to = sent.get(f"to-{pk}", ""), sent.get(f"at-{pk}", "")
        instructor_id = int(covers) if remedy == Remedy.COVER and _is_id(covers) else None
        starts_at = None
        if remedy == Remedy.MOVE and moves_to:
            try:
                starts_at = read_instant(moves_to)
            except Refused:
                starts_at = None  # not what was shown, so it is shown before it is done
        found.append(Decision(pk, remedy, instructor_id, starts_at))
    return found


def rows_of(options: Options, decisions: Sequence[Decision], time_zone: str) -> list[Row]:
    """The meetings with their choices, `decisions` being what a rehearsal has done."""
    done = {one.meeting_id: one for one in decisions}
    return [_row(option, done[option.meeting.pk], time_zone) for option in options.rows]


def _row(option: Option, done: Decision, time_zone: str) -> Row:
    words = {Remedy.CALL_OFF: "Call off"}
    note = ""
    if option.meeting.offering.is_one_on_one:
        moves_to = (
            f"Move to {day_and_time(done.starts_at, time_zone)}"
            if done.starts_at
            else "Move to the next free time at a good hour"
        )
        if option.substitute is not None:
            words = {Remedy.COVER: f"Substitute: {option.substitute}", **words}
        note = f"No substitute: {option.why_not}" if option.why_not else ""
        words |= {Remedy.MOVE: moves_to, Remedy.PROPOSE: "Call off, and propose other times"}
        if option.decision.remedy == Remedy.MOVE and done.remedy == Remedy.PROPOSE:
            del words[Remedy.MOVE]
            note += " No free time at a good hour in the next four weeks."
    choices = [Choice(remedy.value, text, remedy == done.remedy) for remedy, text in words.items()]
    covers = str(done.instructor_id) if done.instructor_id else ""
    return Row(option, choices, note.strip(), covers, utc(done.starts_at) if done.starts_at else "")


def _is_id(text: str) -> bool:
    return text.isdecimal() and len(text) <= 18
