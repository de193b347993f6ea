"""The accounts of a term: a family reads its own, an admin those of all students."""

from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.owed_serializers import AccountAsked, AccountOutput
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import Scope
from bookings.queries.accounts import accounts_in, students_with_account


class Accounts(ApiView):
    """The accounts of a term, with the lessons behind each number."""

    queries = {"GET"}

    @operation(
        "accounts",
        scope=Scope.READ_ACCOUNTS,
        parameters=[AccountAsked],
        responses=paged(AccountOutput),
    )
    def get(self, request: Request, pk: int) -> Response:
        wanted, user, now = asked(request, AccountAsked), me(request), clock.now()
        term = access.access_term(pk)
        rows = students_with_account(term, user, words=wanted.get("q", ""), now=now)
        return page(
            request,
            AccountAsked,
            AccountAsked.narrowed(rows, wanted, user),
            lambda found: AccountOutput.of_all(accounts_in(term, found, now=now)),
        )
