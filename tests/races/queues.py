"""How the places of group meetings are taken, given back and passed on in a queue."""

from typing import NamedTuple

from tests.races.desk import HELD, LISTENER, OFFERED, PLAYER, Desk, Live, Place, Waits


class Queues(NamedTuple):
    """How freed places are passed on. `offers` names the booking that a place in a queue was
    offered, by that place's id.
    """

    offers: dict[int, int]
    passed_over: frozenset[int]
    first_yes: frozenset[int]
    """Meetings so near that nothing is offered: the first of those who wait to say yes has the
    place.
    """

    def taken_by(self, desk: Desk, place: Place) -> Desk | None:
        """A place in a group meeting, taken by who asks: one must be free and nobody in line for
        it.
        """
        meeting = desk.meeting(place.meeting)
        if (
            meeting is None
            or desk.full(meeting, place.kind)
            or desk.booked(place.meeting, place.student, place.kind)
        ):
            return None
        if desk.line(meeting.id, place.kind) and meeting.id not in self.first_yes:
            return None
        if desk.clashes(place.student, place.starts_at, place.ends_at, but=meeting.id):
            return None
        freed = self._listens_no_more(desk, place)
        waited = freed.waits(place.meeting, place.student, place.kind)
        return freed._replace(places=freed.places | {place}, queue=freed.queue - {waited})

    def given_back(self, desk: Desk, place: Place) -> Desk:
        """A place in a group meeting ends, offered or held; it goes to the first in line."""
        left = desk._replace(
            places=desk.places - {place},
            queue=frozenset(row for row in desk.queue if row.offer != place.booking),
        )
        return self.passed_on(left, place.meeting, place.kind)

    def accepted(self, desk: Desk, place: Place) -> Desk | None:
        """Yes to an offer: their time must be free, and their place as a listener ends."""
        if desk.clashes(place.student, place.starts_at, place.ends_at, but=place.meeting):
            return None
        freed = self._listens_no_more(desk, place)
        return freed._replace(
            places=(freed.places - {place}) | {place._replace(standing=HELD)},
            queue=frozenset(row for row in freed.queue if row.offer != place.booking),
        )

    def joined(self, desk: Desk, waits: Waits) -> Desk | None:
        """The queue in its order; refused while a place is free for the taking."""
        meeting = desk.meeting(waits.meeting)
        if (
            meeting is None
            or not meeting.seats(waits.kind)
            or desk.booked(waits.meeting, waits.student, waits.kind)
        ):
            return None
        if self.free_for_all(desk, meeting, waits.kind) or desk.waits(
            waits.meeting, waits.student, waits.kind
        ):
            return None
        return self.passed_on(desk._replace(queue=desk.queue | {waits}), waits.meeting, waits.kind)

    def free_for_all(self, desk: Desk, meeting: Live, kind: str) -> bool:
        """Whether anybody may take a place."""
        return not desk.full(meeting, kind) and (
            not desk.line(meeting.id, kind) or meeting.id in self.first_yes
        )

    def passed_on(self, desk: Desk, pk: int, kind: str) -> Desk:
        """Free places are offered to those first in line."""
        meeting = desk.meeting(pk)
        if meeting is None or pk in self.first_yes:
            return desk
        for first in desk.line(pk, kind):
            if desk.full(meeting, kind):
                break
            if first.student in self.passed_over:
                continue
            # An offer that no row shows gets an id that none has, so that the end cannot agree.
            booking = self.offers.get(first.id, -first.id)
            offer = Place(
                booking, pk, first.student, kind, OFFERED, meeting.starts_at, meeting.ends_at
            )
            desk = desk._replace(
                places=desk.places | {offer},
                queue=(desk.queue - {first}) | {first._replace(offer=booking)},
            )
        return desk

    def _listens_no_more(self, desk: Desk, place: Place) -> Desk:
        if place.kind != PLAYER:
            return desk
        waited = desk.waits(place.meeting, place.student, LISTENER)
        if waited is not None:
            desk = desk._replace(queue=desk.queue - {waited})
        listens = (
            row
            for row in desk.places
            if (row.meeting, row.student, row.kind) == (place.meeting, place.student, LISTENER)
        )
        for row in listens:
            desk = self.given_back(desk, row)
        return desk
