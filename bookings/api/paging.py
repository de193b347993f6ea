"""Pages of a list, by cursor: `results` and the addresses of the `next` and `previous` page."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

from django.core.signing import BadSignature, Signer
from django.db.models import Model, QuerySet
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param
from rest_framework.views import APIView

from bookings.api.fields import AskedWhole, Line, Strict
from bookings.domain.errors import Refused

M = TypeVar("M", bound=Model)


class PageAsked(Strict):
    """Which page of a list."""

    cursor = Line(required=False, help_text="As `next` or `previous` bears it.")
    page_size = AskedWhole(required=False, min_value=1, max_value=200)


class Pages(CursorPagination):
    """The library's pages, with cursors that are signed for one list and one reader: a made-up
    position reaches no database."""

    request: Request
    page_size = 50
    max_page_size = 200
    page_size_query_param = "page_size"

    def decode_cursor(self, request: Request) -> Cursor | None:
        """The cursor in the query string; Refused("invalid") where this list did not give it to
        this reader."""
        signed = request.query_params.get(self.cursor_query_param)
        if signed is None:
            return None
        try:
            return Cursor(*_signer(request).unsign_object(signed))
        except BadSignature:
            raise Refused(
                "invalid",
                "This list did not give that cursor: follow `next` and `previous` as they come.",
                field=self.cursor_query_param,
            ) from None

    def encode_cursor(self, cursor: Cursor) -> str:
        """The address of the page at `cursor`."""
        signed = _signer(self.request).sign_object(list(cursor))
        return str(replace_query_param(self.base_url or "", self.cursor_query_param, signed))


def _signer(request: Request) -> Signer:
    return Signer(salt=f"cursor of {request.path} for {request.user.pk}")


def page(
    request: Request,
    view: APIView,
    rows: QuerySet[M],
    ordering: tuple[str, ...],
    shown: Callable[[list[M]], Iterable[Any]],
) -> Response:
    """One cursor page of `rows` in that order, each as `shown` says it."""
    pages = Pages()
    pages.ordering = ordering
    found = pages.paginate_queryset(rows, request, view)
    return pages.get_paginated_response(list(shown(found or [])))


def page_of_ids(
    request: Request,
    view: APIView,
    ids: Sequence[int],
    shown: Callable[[list[int]], Iterable[Any]],
) -> Response:
    """One cursor page of ids that are in order already.

    A page is found by its place in the list, so that it may repeat or miss one who moved meanwhile.
    """
    pages = Pages()
    cursor = pages.decode_cursor(request) or Cursor(0, False, None)
    size = pages.get_page_size(request) or pages.page_size
    pages.request, pages.base_url = request, request.build_absolute_uri()

    def address(first: int) -> str | None:
        return pages.encode_cursor(Cursor(max(first, 0), False, None))

    first, past = cursor.offset, cursor.offset + size
    return Response(
        {
            "next": address(past) if past < len(ids) else None,
            "previous": address(first - size) if first > 0 else None,
            "results": list(shown(list(ids[first:past]))),
        }
    )
