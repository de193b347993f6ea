"""What students carry from the group meetings of this term and of those before."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date

from accounts.models import Student
from bookings.domain.carried import carried
from bookings.domain.fit import MOST_BURDEN
from bookings.domain.timeline import Period
from bookings.models import Booking, CarriedBurden, Term
from bookings.queries.planning.students import times_of_students


def carried_by(students: Collection[int], on: date) -> dict[int, int]:
    """What each of these students carries on that date: two queries."""
    terms = list(Term.objects.order_by("first_on").values_list("first_on", flat=True))
    of_student: dict[int, list[tuple[date, int]]] = defaultdict(list)
    rows = CarriedBurden.objects.filter(student__in=students)
    for student, first_on, burden in rows.values_list("student", "term__first_on", "burden"):
        of_student[student].append((first_on, burden))
    return {pk: carried(of_student[pk], terms, on) for pk in students}


def costs_at(students: Collection[Student], period: Period) -> dict[int, int]:
    """What a meeting in that period costs each of these students, 0-20: seven queries."""
    times = times_of_students(students, period.starts_at, period.ends_at)
    return {pk: min(time.costs.of(period).cost, MOST_BURDEN) for pk, time in times.items()}


def burdens_held(students: Collection[int]) -> dict[tuple[int, int], int]:
    """What the held places of these students cost them, by student and term: two queries.

    A meeting belongs to the term in which its date lies, on the clock on which it was promised.
    Between terms nothing is carried.
    """
    terms = list(Term.objects.order_by("-first_on"))
    found: dict[tuple[int, int], int] = defaultdict(int)
    rows = Booking.objects.held().filter(student__in=students, burden__isnull=False)
    for student, on, burden in rows.values_list("student_id", "meeting__wall_on", "burden"):
        term = _term_on(terms, on)
        if term is not None:
            found[student, term.pk] += burden or 0
    return found


def _term_on(terms: Iterable[Term], on: date) -> Term | None:
    return next((term for term in terms if term.first_on <= on <= term.last_on), None)
