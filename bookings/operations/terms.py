"""Terms: publish one, change one. What a change leaves outside is listed and kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.terms import Term as TermDates
from bookings.domain.terms import in_break
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import Meeting, Term, TermBreak
from bookings.operations.audit import record

Break = tuple[date, date, str]
"""First day, last day, both included, and what it is called."""


@dataclass(frozen=True, slots=True)
class ChangedTerm:
    """The term as it now stands and the live lessons of its weekly places that lie outside it or in a break: moving them is a decision."""

    term: Term
    left_outside: list[Meeting]


def publish_term(
    *,
    actor: User,
    name: str,
    first_on: date,
    last_on: date,
    lessons_promised: int,
    breaks: Sequence[Break] = (),
    now: datetime,
) -> Term:
    """A new term. Refused as domain.terms.Term is; "invalid" where another has its name."""
    _check(first_on, last_on, breaks)
    term = Term.objects.create(
        name=name, first_on=first_on, last_on=last_on, lessons_promised=lessons_promised
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
    breaks: Sequence[Break] | None = None,
    now: datetime,
) -> ChangedTerm:
    """Changes a term; `breaks` replaces all of them. Lessons that it leaves outside are kept."""
    # Waits for, and keeps off, whoever is just taking a place in it: what she writes lies inside or is listed below.
    current = Term.objects.select_for_update(no_key=True).get(pk=term.pk)
    if version is not None and current.version != version:
        raise Refused(
            "stale", "The term has changed since you read it. Read it again, then decide."
        )
    asked = {
        "name": name,
        "first_on": first_on,
        "last_on": last_on,
        "lessons_promised": lessons_promised,
    }
    changed = [
        field
        for field, value in asked.items()
        if value is not None and value != getattr(current, field)
    ]
    for field in changed:
        setattr(current, field, asked[field])
    kept = [(row.first_on, row.last_on, row.name) for row in current.breaks.all()]
    if breaks is not None and sorted(breaks) != sorted(kept):
        changed.append("breaks")
    if not changed:
        return ChangedTerm(current, _left_outside(current, now))
    _check(current.first_on, current.last_on, kept if breaks is None else breaks)
    current.version += 1
    current.save()
    if breaks is not None and "breaks" in changed:
        current.breaks.all().delete()
        _write_breaks(current, breaks)
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    return ChangedTerm(current, _left_outside(current, now))


def _check(first_on: date, last_on: date, breaks: Sequence[Break]) -> None:
    TermDates(first_on, last_on, tuple((first, last) for first, last, _ in breaks))


def _write_breaks(term: Term, breaks: Sequence[Break]) -> None:
    TermBreak.objects.bulk_create(
        TermBreak(term=term, first_on=first, last_on=last, name=name)
        for first, last, name in breaks
    )


def _left_outside(term: Term, now: datetime) -> list[Meeting]:
    """A lesson that was moved out of the term on purpose is listed, too: nobody can tell the two apart."""
    dates = term.dates()
    ahead = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(
        weekly_place__term=term, starts_at__gt=now
    )
    rows = ahead.select_related("offering", "instructor__user")
    return [
        row
        for row in rows
        if not dates.first_on <= row.wall_on <= dates.last_on or in_break(dates, row.wall_on)
    ]
