"""Exchanges for families: wishing for other families' weekly times, and saying yes or no."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_exchange_move, access_own_weekly_place
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import ExchangeMove, WeeklyPlace
from bookings.operations.exchanges import accept_exchange, decline_exchange
from bookings.operations.wishes import MOST_WISHES, wish_for_times
from bookings.pages.parameters import read_id, read_version
from bookings.pages.signed_in import family, user_of
from bookings.pages.weekly_rows import weekly_row
from bookings.queries.wishes import order_read, other_times

_SAID = {
    "": "Thank you. Your place changes once every family in the exchange has said yes.",
    "placed": "All have said yes. The new time is yours, and an email lists its dates.",
}
_NOT_POSSIBLE = "The exchange is not possible any more. Your weekly place stays as it is."


@login_required
@require_http_methods(["GET", "POST"])
def wishes(request: HttpRequest, place_id: int) -> HttpResponse:
    """GET shows the times that could suit, with the order; POST replaces the order."""
    user, now = user_of(request), clock.now()
    place = access_own_weekly_place(user, place_id, now=now, own=family(user))
    if request.method == "GET":
        return _wishes_page(request, place, now)
    version = read_version(request)
    try:
        wished = _read_order(request)
        write(
            lambda: wish_for_times(
                actor=user, place=place, wished=wished, version=version, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return _wishes_page(request, place, now, refusal)
    said = "Saved. You are asked before anything changes." if wished else "Withdrawn."
    messages.success(request, said)
    return redirect("wish-for-times", place_id=place_id)


def _read_order(request: HttpRequest) -> list[int]:
    """The places that have a rank, the best first. Refused("invalid") for a rank given twice."""
    ranked: dict[int, int] = {}
    for place, text in _typed_ranks(request).items():
        if text:
            rank = read_id(text)
            if rank in ranked:
                raise Refused("invalid", f"Two times are choice {rank}. Give each its own.")
            ranked[rank] = read_id(place)
    return [ranked[rank] for rank in sorted(ranked)]


def _typed_ranks(request: HttpRequest) -> dict[str, str]:
    """What the form holds for each place, by its id."""
    names = [name for name in request.POST if name.startswith("rank-")]
    return {name.removeprefix("rank-"): request.POST.get(name, "") for name in names}


def _wishes_page(
    request: HttpRequest, place: WeeklyPlace, now: datetime, refusal: Refused | None = None
) -> HttpResponse:
    here, found = place.student.zone, other_times(place, now=now)
    kept = sorted((one.rank, one.place_id) for one in found if one.rank is not None)
    ranks = {str(pk): str(rank) for rank, (_, pk) in enumerate(kept, 1)}
    if refusal is not None:
        ranks = _typed_ranks(request)
    choices = _Choices(min(len(found), MOST_WISHES))
    rows = [
        {
            **weekly_row(one.option, here, one.time_zone),
            "instructor": one.instructor,
            "place_id": one.place_id,
            "choices": choices[ranks.get(str(one.place_id), "")],
        }
        for one in found
    ]
    context = {
        "place": place,
        "student": place.student,
        "order": order_read(place),
        "rows": rows,
        "refusal": refusal,
    }
    status = refusal.status if refusal else 200
    return render(request, "levare/wish_for_times.html", context, status=status)


class _Choices(dict[str, SafeString]):
    """The options of a rank, by the one that is chosen. Hundreds of times offer the same ten, and a
    template takes most of the page to write each anew.
    """

    def __init__(self, most: int) -> None:
        self._ranks = [str(rank) for rank in range(1, most + 1)]

    def __missing__(self, chosen: str) -> SafeString:
        rows = ((rank, " selected" if rank == chosen else "", rank) for rank in self._ranks)
        found = format_html_join("", '<option value="{}"{}>Choice {}</option>', rows)
        self[chosen] = found
        return found


@login_required
@require_http_methods(["GET", "POST"])
def answer(request: HttpRequest, move_id: int) -> HttpResponse:
    """GET shows the new time beside the old one; POST says yes or no."""
    user, now = user_of(request), clock.now()
    move = access_exchange_move(user, move_id, now=now)
    if request.method == "GET":
        return _answer_page(request, move, now)
    says_yes, version = request.POST.get("say") == "yes", read_version(request)
    act = accept_exchange if says_yes else decline_exchange
    try:
        said = write(lambda: act(actor=user, move=move, version=version, now=now), now=now)
    except Refused as refusal:
        return _answer_page(request, access_exchange_move(user, move_id, now=now), now, refusal)
    told = "Thank you. Your weekly place stays as it is."
    if says_yes:
        told = _SAID.get(said.exchange.ended_why, _NOT_POSSIBLE)
    messages.success(request, told)
    return redirect("weekly")


def _answer_page(
    request: HttpRequest, move: ExchangeMove, now: datetime, refusal: Refused | None = None
) -> HttpResponse:
    exchange = move.exchange
    context = {
        "move": move,
        "exchange": exchange,
        "student": move.place.student,
        "here": move.place.student.zone,
        "is_open": exchange.ended_at is None and now < exchange.answer_by,
        "refusal": refusal,
    }
    status = refusal.status if refusal else 200
    return render(request, "levare/exchange.html", context, status=status)
