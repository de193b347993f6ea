"""Places offered to those who waited: listed, accepted and declined."""

from functools import partial

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.booking_serializers import BOOKING_PAGE, BookingOutput
from bookings.api.bookings import seen_bookings
from bookings.api.changes import booking_act, changed_booking
from bookings.api.conditions import HONOURED
from bookings.api.operation import operation
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, me
from bookings.api.waiting_serializers import OffersAsked
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import Standing
from bookings.operations.offers import accept_offer, decline_offer


class Offers(ApiView):
    """Places offered to one's students that wait for an answer."""

    queries = {"GET"}

    @operation("offers", scope=PEOPLE, parameters=[OffersAsked], responses=BOOKING_PAGE)
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, OffersAsked), me(request)
        rows = seen_bookings(user).filter(
            standing=Standing.OFFERED, student__in=access.own_students(user, now=clock.now())
        )
        rows = OffersAsked.narrowed(rows, wanted, user)
        return page(request, OffersAsked, rows, partial(BookingOutput.of_all, reader=user))


class Accepting(ApiView):
    """Accepts an offer; `pk` is the id of the booking.

    An offer is answered once, so If-Match is honoured and not needed.
    """

    if_match = {"POST": HONOURED}

    @booking_act("accept_offer")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return changed_booking(request, pk, accept_offer)


class Declining(ApiView):
    """Declines an offer. The place goes to the next on the waiting list."""

    if_match = {"POST": HONOURED}

    @booking_act("decline_offer")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return changed_booking(request, pk, decline_offer)
