"""What is new about a student before a meeting, in short sentences. Pure: facts in, words out."""

from collections.abc import Sequence
from dataclasses import dataclass

_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What is known of one student and one meeting.

    `seen_days_ago` counts the instructor's local days back from the day of the meeting, at least
    one; None if they have not met before. `comes_from` is who taught the student last, empty if
    nobody did. `lesson` is which one this is of how many in a weekly place. `practised_days` of
    the last 14 are known only of plans the instructor may read.
    """

    has_written: bool = False
    questions: int = 0
    recordings: int = 0
    has_pieces: bool = False
    hurts: bool = False
    seen_days_ago: int | None = None
    comes_from: str = ""
    practised_days: int | None = None
    goal_due: bool = False
    lesson: tuple[int, int] | None = None


def counted(number: int, noun: str) -> str:
    """ "three questions" of 3 and "question"; numbers above twelve are digits."""
    word = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    return f"{word} {noun}{'' if number == 1 else 's'}"


def sentences_of(news: News) -> list[str]:
    """The sentences in order: what was written, what hurts, a goal, practice, when they met."""
    told = [_written(news)]
    if news.hurts:
        told.append("Says that something hurts.")
    if news.goal_due:
        told.append("A goal is due on this day.")
    if news.practised_days is not None:
        told.append(f"Practised {news.practised_days} of the last 14 days.")
    told.append(_met(news))
    if news.lesson is not None:
        number, of = news.lesson
        told.append(f"Weekly place, lesson {number} of {of}.")
    return told


def group_sentences(places: int, written: Sequence[News]) -> list[str]:
    """The same for a group with so many players, of whom these have written."""
    if not places:
        return ["Nobody is in it yet."]
    if not written:
        return ["Nothing written yet."]
    whose = "has" if len(written) == 1 else "have"
    told = [f"{len(written)} of {places} {whose} written before."]
    if any(news.hurts for news in written):
        told.append("Somebody says that something hurts.")
    return told


def _written(news: News) -> str:
    parts = []
    if news.questions:
        parts.append(counted(news.questions, "question"))
    if news.recordings:
        parts.append(counted(news.recordings, "recording"))
    if parts:
        return f"{', '.join(parts)}.".capitalize()
    if news.has_pieces:
        return "Pieces named, no question."
    return "No question this time." if news.has_written else "Nothing written yet."


def _met(news: News) -> str:
    if news.seen_days_ago is None:
        came = f"; comes from {news.comes_from}" if news.comes_from else ""
        return f"First lesson with you{came}."
    days = news.seen_days_ago
    if days == 1:
        return "Last seen yesterday."
    if days < 14:
        return f"Last seen {counted(days, 'day')} ago."
    return f"Last seen {counted(days // 7, 'week')} ago."
