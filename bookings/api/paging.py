"""Pages of a list, by cursor: `results` and the addresses of the `next` and `previous` page.

Every list is declared once, by a form under `PageAsked`: its filters, its order, and what each
filter narrows. A cursor holds the columns of a row at an end of a page. So a page stays right while
rows come and go: none that stays comes twice or is left out, however many begin at one instant.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar, TypeVar

from django.core.signing import BadSignature, Signer
from django.db.models import Model, Q, QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from accounts.models import User
from bookings.api.fields import AskedWhole, Line, Strict
from bookings.api.time_fields import InstantOrDay, as_instant
from bookings.domain.errors import Refused

M = TypeVar("M", bound=Model)
R = TypeVar("R", bound=QuerySet[Any])
PAGE_OF, MOST_ON_A_PAGE = 50, 200


class PageAsked(Strict):
    """Which page of a list, and in the forms under this one the filters of a list."""

    cursor = Line(required=False, help_text="As `next` or `previous` has it.")
    page_size = AskedWhole(required=False, min_value=1, max_value=MOST_ON_A_PAGE)

    order: ClassVar[tuple[str, ...]] = ()
    """The columns by which rows come, `-` before those that fall. None is ever null, and all of
    them together are unique. Empty where the call sorts what it has read.
    """
    in_order: ClassVar[str] = ""
    """The same in words, for the description: "By start, the earliest first"."""
    narrows: ClassVar[Mapping[str, str]] = {}
    """The look-up of each filter that compares a column. The call applies the others."""

    @classmethod
    def narrowed(cls, rows: R, sent: Mapping[str, Any], reader: User) -> R:
        """Those of `rows` that the filters of `narrows` let through. A date is the reader's day."""
        fields = cls().fields
        wanted = {
            lookup: _compared(fields[cls.wire.get(name, name)], sent[name], reader)
            for name, lookup in cls.narrows.items()
            if name in sent
        }
        return rows.filter(**wanted) if wanted else rows


class ByStartAsked(PageAsked):
    """What starts in [from, to)."""

    wire = {"since": "from", "until": "to"}
    order = ("starts_at", "id")
    in_order = "By start, the earliest first."
    narrows = {"since": "starts_at__gte", "until": "starts_at__lt"}
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)


def _compared(field: serializers.Field, value: Any, reader: User) -> Any:
    return as_instant(value, reader.zone) if isinstance(field, InstantOrDay) else value


@dataclass(frozen=True, slots=True)
class _Cursor:
    """A place in a list: the row whose columns are `at`, and which way the page goes from there.

    `with_row` is whether that row itself is on the page.
    """

    is_back: bool
    with_row: bool
    at: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """One request for a page: its place, None for the beginning, and how many rows it wants."""

    request: Request
    cursor: _Cursor | None
    size: int

    @property
    def is_back(self) -> bool:
        """Whether the page is read from its end to its beginning."""
        return self.cursor is not None and self.cursor.is_back

    def page(self, found: list[Any], *, is_more: bool, at: Callable[[Any], list[Any]]) -> Any:
        """The addresses around these rows, which are in the order of the list.

        `is_more` is whether more rows follow in the direction of the page; `at` gives the columns
        of a row.
        """
        came = self.cursor is not None
        before, after = (is_more, came) if self.is_back else (came, is_more)
        if found:
            first, last = at(found[0]), at(found[-1])
            return {
                "next": self._address(False, False, last) if after else None,
                "previous": self._address(True, False, first) if before else None,
            }
        # Everything beyond the place has gone: the way back begins with the row at the place.
        where = list(self.cursor.at) if self.cursor else []
        return {
            "next": self._address(False, True, where) if after else None,
            "previous": self._address(True, True, where) if before else None,
        }

    def _address(self, is_back: bool, with_row: bool, at: list[Any]) -> str:
        signed = _signer(self.request).sign_object([is_back, with_row, *at])
        whole = self.request.build_absolute_uri()
        return str(replace_query_param(whole, "cursor", signed))


def _asked(request: Request) -> _Asked:
    """What a request asks for, checked by its form already.

    Refused("invalid") for a cursor that this list did not give to this reader.
    """
    sent, size = request.query_params.get("cursor"), request.query_params.get("page_size")
    cursor = None
    if sent is not None:
        try:
            is_back, with_row, *at = _signer(request).unsign_object(sent)
        except BadSignature:
            raise Refused(
                "invalid",
                "This list did not give that cursor: follow `next` and `previous` as they come.",
                field="cursor",
            ) from None
        cursor = _Cursor(is_back, with_row, tuple(at))
    return _Asked(request, cursor, int(size) if size else PAGE_OF)


def _signer(request: Request) -> Signer:
    return Signer(salt=f"cursor of {request.path} for {request.user.pk}")


def page(
    request: Request,
    form: type[PageAsked],
    rows: QuerySet[M],
    shown: Callable[[list[M]], Iterable[Any]],
) -> Response:
    """One page of `rows` in the order that `form` declares, each as `shown` says it."""
    asked, order = _asked(request), form.order
    columns = _turned(order) if asked.is_back else order
    rows = rows.order_by(*columns)
    if asked.cursor is not None:
        rows = rows.filter(_beyond(columns, asked.cursor))
    found = list(rows[: asked.size + 1])
    is_more = len(found) > asked.size
    found = found[: asked.size]
    if asked.is_back:
        found.reverse()
    around = asked.page(found, is_more=is_more, at=lambda row: _columns_of(row, order))
    return Response({**around, "results": list(shown(found))})


def page_of_ids(
    request: Request, ids: Sequence[int], shown: Callable[[list[int]], Iterable[Any]]
) -> Response:
    """One page of ids that are in order already.

    The place of an id that is no longer among them is where it was.
    """
    asked = _asked(request)
    places = {pk: place for place, pk in enumerate(ids)}
    first, past = 0, asked.size
    if asked.cursor is not None:
        pk, was = asked.cursor.at
        place = places.get(pk, min(was, len(ids)))
        if asked.is_back:
            past = place + 1 if asked.cursor.with_row else place
            first = max(past - asked.size, 0)
        else:
            first = place if asked.cursor.with_row or pk not in places else place + 1
            past = first + asked.size
    found = list(ids[first:past])
    is_more = first > 0 if asked.is_back else past < len(ids)
    around = asked.page(found, is_more=is_more, at=lambda pk: [pk, places[pk]])
    return Response({**around, "results": list(shown(found))})


def _turned(order: tuple[str, ...]) -> tuple[str, ...]:
    """The same columns the other way round."""
    return tuple(name[1:] if name.startswith("-") else f"-{name}" for name in order)


def _beyond(order: tuple[str, ...], cursor: _Cursor) -> Q:
    """The rows that come after a place in this order."""
    beyond, same = Q(), Q()
    for place, (name, value) in enumerate(zip(order, cursor.at, strict=True)):
        column, lookup = name.removeprefix("-"), "lt" if name.startswith("-") else "gt"
        if place == len(order) - 1 and cursor.with_row:
            lookup += "e"
        beyond |= same & Q(**{f"{column}__{lookup}": value})
        same &= Q(**{column: value})
    # Said apart, the first column lets an index begin at the place.
    column, lookup = order[0].removeprefix("-"), "lte" if order[0].startswith("-") else "gte"
    return Q(**{f"{column}__{lookup}": cursor.at[0]}) & beyond


def _columns_of(row: Any, order: tuple[str, ...]) -> list[Any]:
    return [_plain(row, name.removeprefix("-").split("__")) for name in order]


def _plain(row: Any, path: list[str]) -> Any:
    value = row
    for name in path:
        value = getattr(value, name)
    return value.isoformat() if isinstance(value, date) else value
