"""`manage.py createsuperuser`: the first admin of a school."""

import os
from typing import Any

from django.contrib.auth.management.commands import createsuperuser
from django.db.models import Field

from bookings.domain.addresses import known_as
from bookings.domain.zone_names import current_name
from bookings.domain.zones import is_known

_EXAMPLE = "such as Europe/Dublin"


class Command(createsuperuser.Command):
    """Django's own command, which also asks for the person's time zone.

    Zones are those that every page knows, and the address is stored as people sign in with it.
    """

    help = "Makes the first admin: asks for their email address, name, time zone and password."

    def handle(self, *args: Any, **options: Any) -> None:
        email = options["email"] or os.environ.get("DJANGO_SUPERUSER_EMAIL")
        super().handle(*args, **{**options, "email": known_as(email) if email else None})

    def get_input_data(self, field: Field, message: str, default: Any = None) -> Any:
        if field.name != "time_zone":
            value = super().get_input_data(field, message, default)
            return known_as(value) if field.name == "email" and value else value
        typed = input(f"Time zone, {_EXAMPLE}: ").strip()
        if is_known(typed):
            return current_name(typed)
        self.stderr.write(f"Error: This is not an IANA time zone. Use a name {_EXAMPLE}.")
        return None
