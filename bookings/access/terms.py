"""A term by its address: everybody may read it, and admins change it."""

from bookings.access.refusals import not_there
from bookings.models import Term


def access_term(term_id: int) -> Term:
    """The term with this id."""
    found = Term.objects.filter(pk=term_id).first()
    if found is None:
        raise not_there()
    return found
