"""Terms: publish one, change one. Lessons outside the new dates are listed and kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from types import EllipsisType

from accounts.models import User
from bookings.domain.terms import TermDates, check_flex_week, in_break
from bookings.models import Meeting, Term, TermBreak
from bookings.operations.audit import record
from bookings.operations.changing import set_given
from bookings.operations.versions import check_version

Break = tuple[date, date, str]
"""First day, last day, both included, and a name."""


@dataclass(frozen=True, slots=True)
class ChangedTerm:
    """The term as it now stands, and lessons of its weekly places outside it or in a break.

    Those lessons are kept: moving them is a decision of people.
    """

    term: Term
    left_outside: list[Meeting]


def publish_term(
    *,
    actor: User,
    name: str,
    first_on: date,
    last_on: date,
    lessons_promised: int,
    flex_last_on: date | None = None,
    breaks: Sequence[Break] = (),
    now: datetime,
) -> Term:
    """Makes a term. Refused as domain.terms.Term, and "invalid" where another has its name."""
    _check(first_on, last_on, breaks, flex_last_on)
    term = Term.objects.create(
        name=name,
        first_on=first_on,
        last_on=last_on,
        lessons_promised=lessons_promised,
        flex_last_on=flex_last_on,
    )
    _write_breaks(term, breaks)
    record(actor=actor, verb="published", thing=term, now=now)
    return term


def change_term(
    *,
    actor: User,
    term: Term,
    version: int | None = None,
    name: str | None = None,
    first_on: date | None = None,
    last_on: date | None = None,
    lessons_promised: int | None = None,
    flex_last_on: date | EllipsisType | None = ...,
    breaks: Sequence[Break] | None = None,
    now: datetime,
) -> ChangedTerm:
    """Changes what is not None; `breaks` replaces all breaks. Lessons left outside are kept.

    A `flex_last_on` of None takes the flex week away; owed lessons keep their use-by dates.
    Refused: "stale", and as `publish_term`.
    """
    # Waits for families who are taking a place in this term, so that their lessons are listed too.
    current = Term.objects.select_for_update(no_key=True).get(pk=term.pk)
    check_version(current, version)
    wanted = {"name": name, "first_on": first_on, "last_on": last_on}
    changed = set_given(current, **wanted, lessons_promised=lessons_promised)
    changed += _set_flex_week(current, flex_last_on)
    old_breaks = [(row.first_on, row.last_on, row.name) for row in current.breaks.all()]
    new_breaks = old_breaks if breaks is None else breaks
    if sorted(new_breaks) != sorted(old_breaks):
        changed.append("breaks")
    if changed:
        _check(current.first_on, current.last_on, new_breaks, current.flex_last_on)
        current.version += 1
        current.save()
        record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    if "breaks" in changed:
        current.breaks.all().delete()
        _write_breaks(current, new_breaks)
    return ChangedTerm(current, _left_outside(current, now))


def _set_flex_week(term: Term, flex_last_on: date | EllipsisType | None) -> list[str]:
    """As `set_given`; only `...` leaves it as it is."""
    if flex_last_on is ... or flex_last_on == term.flex_last_on:
        return []
    term.flex_last_on = flex_last_on
    return ["flex_last_on"]


def _check(
    first_on: date, last_on: date, breaks: Sequence[Break], flex_last_on: date | None
) -> None:
    """Refuses as domain.terms.Term and `check_flex_week`."""
    dates = TermDates(first_on, last_on, tuple((first, last) for first, last, _ in breaks))
    check_flex_week(dates, flex_last_on)


def _write_breaks(term: Term, breaks: Sequence[Break]) -> None:
    TermBreak.objects.bulk_create(
        TermBreak(term=term, first_on=first, last_on=last, name=name)
        for first, last, name in breaks
    )


def _left_outside(term: Term, now: datetime) -> list[Meeting]:
    """Lessons ahead on dates without lessons. One that was moved there on purpose is listed too."""
    dates = term.dates()
    ahead = Meeting.objects.not_called_off().ahead(now).filter(weekly_place__term=term)
    rows = ahead.select_related("offering", "instructor__user")
    return [
        row
        for row in rows
        if not dates.first_on <= row.wall_on <= dates.last_on or in_break(dates, row.wall_on)
    ]
