"""What students carry of their group meetings, kept in step with the places that they hold."""

from collections.abc import Iterable

from bookings.domain.timeline import Period
from bookings.models import Booking, CarriedBurden
from bookings.queries.planning.carried import burdens_held, costs_at


def carry(bookings: Iterable[Booking]) -> None:
    """Writes anew what the students of these places carry in each term.

    Call it when a place is taken, ended or given back; the caller holds the students' locks.
    A place that no plan of a group made costs nothing, and changes nothing.
    """
    students = {booking.student_id for booking in bookings if booking.burden is not None}
    if not students:
        return
    held = burdens_held(students)
    for row in CarriedBurden.objects.filter(student__in=students):
        burden = held.pop((row.student_id, row.term_id), 0)
        if row.burden != burden:
            row.burden = burden
            row.save(update_fields=["burden"])
    CarriedBurden.objects.bulk_create(
        CarriedBurden(student_id=student, term_id=term, burden=burden)
        for (student, term), burden in held.items()
    )


def carry_moved(bookings: Iterable[Booking]) -> None:
    """The same for places of one meeting that has moved: first its new hour is reckoned."""
    planned = [booking for booking in bookings if booking.burden is not None]
    if not planned:
        return
    period = Period(planned[0].starts_at, planned[0].ends_at)
    costs = costs_at([booking.student for booking in planned], period)
    for booking in planned:
        booking.burden = costs[booking.student_id]
        booking.save(update_fields=["burden"])
    carry(planned)
