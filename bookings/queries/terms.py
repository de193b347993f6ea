"""The school's terms. Everybody may read them."""

from django.db.models import QuerySet

from bookings.access import not_there
from bookings.models import Term


def all_terms() -> QuerySet[Term]:
    """All terms with their breaks, by date."""
    return Term.objects.prefetch_related("breaks")


def one_term(term_id: int) -> Term:
    """A term. Refused("not-found") for an unknown id."""
    found = Term.objects.filter(pk=term_id).first()
    if found is None:
        raise not_there()
    return found
