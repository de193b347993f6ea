"""The weekly times that a family would rather have than its own: a strict order for one place."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.models import PlaceWish, WeeklyPlace, WishOrder
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.versions import check_version
from bookings.queries.wishes import order_of, other_times

MOST_WISHES = 10
"""How many times one order may name."""


def wish_for_times(
    *,
    actor: User,
    place: WeeklyPlace,
    wished: Sequence[int],
    version: int | None = None,
    now: datetime,
) -> WishOrder:
    """Replaces the order of a place. `wished` are ids of places whose times are offered to it, the
    best first; none withdraws it.

    Refused: "already-ended", "stale", "invalid" for a time that is named twice, is one too many or
    is not offered.
    """
    lock_students([place.student_id])
    if not WeeklyPlace.objects.not_ended().filter(pk=place.pk).exists():
        raise Refused("already-ended", "This weekly place has already been given up.")
    order = order_of(place)
    check_version(
        order,
        version,
        detail="This order has changed since you read it. Read it again, then decide.",
    )
    _check(wished, place, now)
    order.version += 1
    order.changed_at = now
    order.save()
    order.wishes.all().delete()
    PlaceWish.objects.bulk_create(
        PlaceWish(order=order, wished_id=pk, rank=rank) for rank, pk in enumerate(wished, 1)
    )
    record(actor=actor, verb="wished for times", thing=order, fields=["wishes"], now=now)
    return order


def _check(wished: Sequence[int], place: WeeklyPlace, now: datetime) -> None:
    if len(set(wished)) < len(wished):
        raise Refused("invalid", "Name each time once.", field="weekly_places")
    if len(wished) > MOST_WISHES:
        raise Refused("invalid", f"Name at most {MOST_WISHES} times.", field="weekly_places")
    offered = {one.place_id for one in other_times(place, now=now)} if wished else set()
    if not set(wished) <= offered:
        raise Refused(
            "invalid",
            "One of these times is not offered any more. Look at the times again, then choose.",
            field="weekly_places",
        )
