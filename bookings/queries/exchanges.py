"""Exchanges that families are asked about, with the places that their moves name."""

from django.db.models import QuerySet

from bookings.models import Exchange, ExchangeMove

_PLACES = tuple(
    f"{place}__{of}"
    for place in ("place", "takes")
    for of in ("student__user", "instructor__user", "offering", "term")
)


def with_places(rows: QuerySet[ExchangeMove]) -> QuerySet[ExchangeMove]:
    """The same moves with the place that each leaves and the one whose time it takes."""
    return rows.select_related("exchange", *_PLACES)


def moves_of(exchange: Exchange) -> list[ExchangeMove]:
    """The moves of one exchange: one query."""
    return list(with_places(ExchangeMove.objects.filter(exchange=exchange)).order_by("pk"))
