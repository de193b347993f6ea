"""The school's terms."""

from datetime import date

from django.db.models import QuerySet

from bookings.models import Term


def all_terms() -> list[Term]:
    """Every term with its breaks, the latest first: there are few."""
    return list(terms_with_breaks().order_by("-first_on", "-name"))


def terms_with_breaks() -> QuerySet[Term]:
    """Every term with its breaks: two queries."""
    return Term.objects.prefetch_related("breaks")


def terms_not_over(today: date) -> QuerySet[Term]:
    """Terms that run or are ahead."""
    return Term.objects.filter(last_on__gte=today)
