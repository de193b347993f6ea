"""`manage.py reset_second_factor`: for a school whose only admin has lost their second factor."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.second_factors import reset_second_factor
from bookings.queries.people import account_of_email


class Command(BaseCommand):
    help = (
        "Removes a person's second factor, signs them out everywhere, and writes them an email. "
        "They sign in with their password and set up a new one. "
        "Where there is another admin, they do this on the page People."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="the person's email address")
        parser.add_argument("--reason", required=True, help="how you know who asked; it is audited")

    def handle(self, *args: Any, **options: Any) -> None:
        user = account_of_email(options["email"])
        if user is None:
            raise CommandError("Nobody has this email address.")
        now = clock.now()
        try:
            write(
                lambda: reset_second_factor(
                    actor=None, user=user, reason=options["reason"], now=now
                ),
                now=now,
            )
        except Refused as refusal:
            raise CommandError(refusal.detail) from None
        self.stdout.write(f"{user.name} has no second factor now, and is signed out everywhere.")
