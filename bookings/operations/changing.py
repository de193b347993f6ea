"""A row takes the values that a change gives it."""

from django.db.models import Model


def set_given(row: Model, **wanted: object) -> list[str]:
    """Sets what is not None, in memory; returns the names of the fields that have changed."""
    changed = [
        field
        for field, value in wanted.items()
        if value is not None and value != getattr(row, field)
    ]
    for field in changed:
        setattr(row, field, wanted[field])
    return changed
