"""The kinds of plan: how each reads what was asked, solves it, and adopts the answer."""

from collections.abc import Mapping

from bookings.domain.vocabulary import PlanKind
from bookings.operations.planning import cover, exchange, group, timetable, who_next
from bookings.operations.planning.work import PlanWork

WORK: Mapping[PlanKind, PlanWork] = {
    PlanKind.COVER: cover.WORK,
    PlanKind.GROUP: group.WORK,
    PlanKind.TIMETABLE: timetable.WORK,
    PlanKind.WHO_NEXT: who_next.WORK,
    PlanKind.EXCHANGE: exchange.WORK,
}
"""What is done for each kind."""

__all__ = ["WORK", "PlanWork"]
