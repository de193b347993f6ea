"""The school's terms."""

from bookings.models import Term


def all_terms() -> list[Term]:
    """Every term with its breaks, the latest first: there are few."""
    return list(Term.objects.prefetch_related("breaks").order_by("-first_on", "-name"))
