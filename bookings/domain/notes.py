"""What a note may say: its dates, its short texts, and what it needs before it is released."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteForm

FOLLOW_UPS: Mapping[int, str] = {2: "two", 4: "four", 6: "six"}
"""Weeks after which student and instructor may meet again, and their words."""
AROUND = timedelta(days=3)
"""How far from the day of a follow-up a start may lie to be suggested."""
MOST_STEPS, LONGEST_STEP = 3, 300
MOST_HEARD, LONGEST_HEARD = 8, 200
_CHILDHOOD, _LIFETIME = 18, 100
_GOAL_YEARS = 2


def check_heard_on(heard_on: date, *, today: date, adult_on: date | None) -> None:
    """Refused("invalid", field="heard_on") for a date ahead, or from before the student's birth.

    That is more than 18 years before `adult_on` or, for a known adult, more than 100 years ago.
    `today` is the date on the author's clock.
    """
    if heard_on > today:
        detail = "This date is in the future. Enter the day on which you heard the student."
        raise Refused("invalid", detail, field="heard_on")
    earliest = (
        years_later(today, -_LIFETIME) if adult_on is None else years_later(adult_on, -_CHILDHOOD)
    )
    if heard_on < earliest:
        detail = "The student was not born then. Enter the day on which you heard them."
        raise Refused("invalid", detail, field="heard_on")


def check_goal_on(goal_on: date | None, heard_on: date) -> None:
    """Refused("invalid", field="goal_on") for a date before `heard_on` or over two years later."""
    if goal_on is None or heard_on <= goal_on <= years_later(heard_on, _GOAL_YEARS):
        return
    detail = "Choose a date for the goal between the day of the lesson and two years after it."
    raise Refused("invalid", detail, field="goal_on")


def follow_up_on(heard_on: date, weeks: int | None) -> date | None:
    """The day of the follow-up. Refused("invalid", field="follow_up_weeks") for other weeks."""
    if weeks is None:
        return None
    if weeks not in FOLLOW_UPS:
        raise Refused("invalid", "Suggest to meet in 2, 4 or 6 weeks.", field="follow_up_weeks")
    return heard_on + timedelta(weeks=weeks)


def checked_steps(texts: Iterable[str]) -> list[str]:
    """Next steps without blanks around them, empty ones left out.

    Refused("invalid", field="next_steps") for more than three or one over 300 characters.
    """
    return _checked(texts, MOST_STEPS, LONGEST_STEP, "next_steps")


def checked_heard(texts: Iterable[str]) -> list[str]:
    """Pieces and drills, as `checked_steps`: up to eight of 200 characters."""
    return _checked(texts, MOST_HEARD, LONGEST_HEARD, "heard")


def _checked(texts: Iterable[str], most: int, longest: int, field: str) -> list[str]:
    found = [" ".join(text.split()) for text in texts if text.strip()]
    if len(found) > most:
        raise Refused("invalid", f"Write at most {most} here, one a line.", field=field)
    if any(len(text) > longest for text in found):
        raise Refused("invalid", f"Use at most {longest} characters for each.", field=field)
    return found


def missing_for_release(
    form: str, *, heard: Sequence[str], next_steps: Sequence[str], goal: str, has_practice: bool
) -> list[str]:
    """The fields without which a note is not released; empty where nothing is missing.

    An assessment needs a next step and a goal. A lesson note needs one of: something heard, a next
    step, something to practise.
    """
    if form == NoteForm.LESSON_NOTE:
        return [] if heard or next_steps or has_practice else ["heard", "next_steps", "practice"]
    return [
        name
        for name, is_there in (("next_steps", bool(next_steps)), ("goal", bool(goal.strip())))
        if not is_there
    ]


def outcomes(notes: Sequence[tuple[str, str]]) -> list[str]:
    """For each note, the earliest first, what became of its goal; empty where no note says.

    Each note is its goal and what it says of the goal before it.
    """
    found = [""] * len(notes)
    with_goal = None
    for place, (goal, of_last) in enumerate(notes):
        if of_last and with_goal is not None:
            found[with_goal] = of_last
        if goal:
            with_goal = place
    return found


def years_later(on: date, years: int) -> date:
    """The same date so many years later, or earlier; 28 February where there is no 29th."""
    try:
        return on.replace(year=on.year + years)
    except ValueError:
        return on.replace(year=on.year + years, day=28)
