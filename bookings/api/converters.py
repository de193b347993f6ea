"""What an address may hold."""

from django.urls import register_converter
from django.urls.converters import IntConverter, get_converters


class IdConverter(IntConverter):
    """A positive integer that fits a database's id."""

    regex = "[0-9]{1,15}"


def register_ids() -> None:
    """Makes `<id:...>` known to addresses; call it before the first of them."""
    if "id" not in get_converters():
        register_converter(IdConverter, "id")
