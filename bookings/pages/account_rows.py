"""The account of a term as its pages show it: a sum, and each lesson in a line of sentences."""

from collections.abc import Sequence
from dataclasses import dataclass

from bookings.domain.accounts import Chain, Lesson, Link, Owed, Root
from bookings.domain.owed import CAUSES, date_in_words
from bookings.domain.vocabulary import LessonOutcome, OwedCause, OwedClosed
from bookings.models import OwedLesson
from bookings.pages.templatetags.formatting import day_and_time
from bookings.queries.accounts import TermAccount

OUTCOMES = {
    LessonOutcome.GIVEN: "Given",
    LessonOutcome.TO_COME: "To come",
    LessonOutcome.OWED: "Owed",
    LessonOutcome.UNMARKED: "Not marked",
    LessonOutcome.FORFEITED: "Forfeited",
    LessonOutcome.LAPSED: "Lapsed",
    LessonOutcome.CARRIED_OUT: "Carried out or settled",
}
"""Each outcome in the order of the page."""
ROOTS = {
    Root.PROMISED: "",
    Root.CARRIED_IN: "",
    Root.EXTRA: "Beside the weekly place.",
}


@dataclass(frozen=True, slots=True)
class AccountLine:
    """One lesson of an account. `open` is the owed lesson that it may still be about."""

    sentences: Sequence[str]
    open: OwedLesson | None
    is_owed: bool


@dataclass(frozen=True, slots=True)
class AccountPart:
    """One outcome with its lessons. `anchor` is where the page lists them."""

    name: str
    anchor: str
    count: int
    lines: Sequence[AccountLine]


def parts_of(found: TermAccount) -> list[AccountPart]:
    """The account by outcome; those without a lesson have no line."""
    by_outcome: dict[LessonOutcome, list[AccountLine]] = {outcome: [] for outcome in OUTCOMES}
    for chain in found.account.chains:
        by_outcome[chain.outcome].append(_line(chain, found))
    return [
        AccountPart(name, outcome.value, len(by_outcome[outcome]), by_outcome[outcome])
        for outcome, name in OUTCOMES.items()
    ]


def numbers_of(found: TermAccount) -> list[int]:
    """The numbers of one account in the order of a table: what begins it, then OUTCOMES."""
    account = found.account
    begun = [account.promised, account.carried_in, account.extra]
    counts = account.counts
    return begun + [counts[outcome] for outcome in OUTCOMES]


def _line(chain: Chain, found: TermAccount) -> AccountLine:
    following = [*chain.links[1:], None]
    told = [
        _told(link, after, chain.left.why, found)
        for link, after in zip(chain.links, following, strict=True)
    ]
    told = [ROOTS[chain.root], *told]
    last = chain.links[-1]
    is_open = isinstance(last, Owed) and chain.outcome in (LessonOutcome.OWED, LessonOutcome.LAPSED)
    owed = found.owed[last.id] if is_open else None
    return AccountLine([one for one in told if one], owed, chain.outcome is LessonOutcome.OWED)


def _told(link: Link, following: Link | None, left: str, found: TermAccount) -> str:
    """What became of one link: of a missed lesson why it is owed, of the last what it `left`."""
    if not isinstance(link, Lesson):
        return "" if following is not None else _owed(found.owed[link.id], found)
    when = day_and_time(link.starts_at, found.student.zone)
    what = "Make-up lesson on " if link.makes_up is not None else ""
    why = CAUSES[following.cause] if isinstance(following, Owed) else left
    return f"{what}{when}: {why}."


def _owed(owed: OwedLesson, found: TermAccount) -> str:
    why = f" Why: {owed.reason}" if owed.reason else ""
    by = date_in_words(owed.use_by)
    if owed.closed_how == OwedClosed.LAPSED:
        return f"Not made up by {by}."
    if owed.closed_how == OwedClosed.BY_HAND:
        return f"Settled by the school.{why}"
    if owed.closed_how == OwedClosed.CARRIED_OUT:
        term = found.carried_to.get(owed.pk)
        where = f" to {term}" if term is not None else ""
        return f"Carried{where}.{why}"
    if owed.booking_id is None:
        cause = CAUSES[OwedCause(owed.cause)]
        return f"{cause[0].upper()}{cause[1:]}. To be made up by {by}.{why}"
    return f"To be made up by {by}.{why}"
