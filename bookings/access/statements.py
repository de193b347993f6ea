"""The statements of hours that a person may read: their own or, for admins, all."""

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.models import Statement, StatementQuerySet


def statements_of(user: User) -> StatementQuerySet:
    """The statements that this person may read: all for admins, else their own.

    Whoever taught here before still reads theirs. Refused("not-allowed") for anybody else.
    """
    if user.is_staff:
        return Statement.objects.all()
    if not hasattr(user, "instructor"):
        raise Refused("not-allowed", "Only instructors and admins have statements of hours.")
    return Statement.objects.of(user.instructor)


def access_statement(user: User, statement_id: int) -> Statement:
    """A statement that this person may read. Refused: "not-allowed", "not-found"."""
    rows = statements_of(user).select_related("instructor__user", "issued_by")
    found = rows.filter(pk=statement_id).first()
    if found is None:
        raise not_there()
    return found
