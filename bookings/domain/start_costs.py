"""The costs of starts in one search, and which starts are offered by them."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from bookings.domain.burden import HARD
from bookings.domain.timeline import Horizon, Period
from bookings.domain.vocabulary import Night
from bookings.domain.weekly_costs import NEVER, Hour, WeeklyCosts

Start = tuple[int, int]  # cell and instructor id


@dataclass(frozen=True, slots=True)
class Listing:
    """Which starts a list has by their hours, and for whose eyes.

    `night` says what becomes of starts at a hard hour, and `with_never` lists those at hours marked
    “never” as well. For an instructor's eyes the burden is the curve's alone: what the family says
    only leaves starts out.
    """

    night: Night = Night.INCLUDED
    with_never: bool = False
    is_for_instructor: bool = False


USUAL = Listing()


class StartCosts:
    """What a meeting of `meeting_cells` costs the student in each cell where it may start.

    A cell that many instructors offer is counted once.
    """

    def __init__(self, costs: WeeklyCosts, horizon: Horizon, meeting_cells: int) -> None:
        self.horizon = horizon
        self._costs, self._cells = costs, meeting_cells
        self._meetings = dict[int, Period]()
        self._hours = dict[int, Hour]()

    def told_in(self, listing: Listing) -> "StartCosts":
        """These costs; to an instructor those of the curve alone, whatever the family says."""
        if not listing.is_for_instructor:
            return self
        return StartCosts(WeeklyCosts(self._costs.time_zone), self.horizon, self._cells)

    def meeting(self, cell: int) -> Period:
        """The meeting that starts in the cell, without its changeover."""
        if cell not in self._meetings:
            ends_at = self.horizon.instant(cell + self._cells)
            self._meetings[cell] = Period(self.horizon.instant(cell), ends_at)
        return self._meetings[cell]

    def hour(self, cell: int) -> Hour:
        """What a meeting that starts in the cell costs."""
        if cell not in self._hours:
            self._hours[cell] = self._costs.of(self.meeting(cell))
        return self._hours[cell]

    def cost(self, cell: int) -> int:
        """The same without its words."""
        return self.hour(cell).cost


def offered(
    found: Sequence[Start], costs: StartCosts, listing: Listing, limit: int | None
) -> list[Start]:
    """The first of these starts that may be listed, at most `limit`, in their order.

    Starts that cost NEVER are left out unless asked for. With Night.LAST a hard start is listed
    only where no other may be.
    """

    def below(bound: int) -> list[Start]:
        return list(islice((one for one in found if costs.hour(one[0]).cost < bound), limit))

    everything = NEVER + 1 if listing.with_never else NEVER
    if listing.night is Night.INCLUDED:
        return below(everything)
    humane = below(HARD)
    if humane or listing.night is Night.LEFT_OUT:
        return humane
    return below(everything)
