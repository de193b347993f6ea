"""The school around a race's desk."""

from collections.abc import Mapping
from dataclasses import dataclass

from tests.races.desk.rows import Desk, Meeting, Wait
from tests.races.desk.setting import Setting


@dataclass(frozen=True)
class Race(Setting):
    """A race's school, which refuses nothing by itself. How its queues are passed on is read off
    the rows: `offers` names the booking that a place in a queue was offered, by that place's id.
    """

    offers: Mapping[int, int]
    passed_over: frozenset[int]
    first_yes: frozenset[int]
    """Meetings so near that nothing is offered: the first of those who wait to say yes has the
    place.
    """

    def is_near(self, meeting: Meeting, student: int) -> bool:
        return meeting.id in self.first_yes

    def may_take(self, meeting: Meeting, student: int) -> bool:
        return student not in self.passed_over

    def offered(self, desk: Desk, wait: Wait) -> int:
        """An offer that no row shows gets an id that none has, so that the end cannot agree."""
        return self.offers.get(wait.id, -wait.id)
