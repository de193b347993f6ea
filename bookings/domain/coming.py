"""Whether a student can come to a meeting, and what it costs them: for plans."""

from bookings.domain.errors import Refused
from bookings.domain.parties import StudentTime
from bookings.domain.policy import Policy, check_minor, is_minor
from bookings.domain.timeline import Period
from bookings.domain.weekly_costs import NEVER
from bookings.domain.zones import zone


def cost_of_coming(student: StudentTime, period: Period, policy: Policy) -> int | None:
    """What the period costs the student, 0-20.

    None where they cannot come, since something else lies over it; may not, as a minor at night; or
    have marked the hour “never”.
    """
    if any(taken.overlaps(period) for taken in (*student.meetings, *student.busy)):
        return None
    starts_on = period.starts_at.astimezone(zone(student.time_zone)).date()
    if is_minor(student.adult_on, starts_on):
        try:
            check_minor(period, student.time_zone, policy)
        except Refused:
            return None
    cost = student.costs.of(period).cost
    return None if cost >= NEVER else cost
