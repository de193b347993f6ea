"""The versions of what a plan was made from, and what has changed since, in words."""

from collections.abc import Iterable, Mapping

from accounts.models import Instructor
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import TeachingWeek, Term

_ZONES, _WEEK, _TERM = "time-zone data", "week", "term"
HOURS_READ = "hours read"
"""When the hours of a group's members were read."""


def seen_now(
    *, instructors: Iterable[Instructor] = (), term: Term | None = None
) -> dict[str, int | str]:
    """The version of everything that a plan reads, by name: one query."""
    weeks = TeachingWeek.objects.filter(instructor__in=[one.pk for one in instructors])
    seen: dict[str, int | str] = {
        f"{_WEEK} {pk}": version for pk, version in weeks.values_list("instructor_id", "version")
    }
    if term is not None:
        seen[f"{_TERM} {term.pk}"] = term.version
    return {**seen, _ZONES: TZDATA_VERSION}


def changed_since(seen: Mapping[str, int | str]) -> list[str]:
    """One sentence for each thing that is not as the plan saw it: two queries."""
    weeks = _rows(seen, _WEEK)
    terms = _rows(seen, _TERM)
    told = [
        f"The teaching hours of {week.instructor} have changed since."
        for week in TeachingWeek.objects.filter(instructor__in=weeks).select_related(
            "instructor__user"
        )
        if week.version != weeks[week.instructor_id]
    ]
    told += [
        f"{term} has changed since."
        for term in Term.objects.filter(pk__in=terms)
        if term.version != terms[term.pk]
    ]
    if seen.get(_ZONES, TZDATA_VERSION) != TZDATA_VERSION:
        told.append("The time-zone data have changed since.")
    return told


def _rows(seen: Mapping[str, int | str], what: str) -> dict[int, int | str]:
    """The versions of one kind of thing, by its id."""
    named = (name.rpartition(" ") for name in seen)
    return {int(pk): seen[f"{kind} {pk}"] for kind, _, pk in named if kind == what}
