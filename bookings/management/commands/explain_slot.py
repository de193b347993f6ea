"""`manage.py explain_slot`: why a start is or is not offered, with the name and numbers of each
rule.
"""

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.wall import spoken
from bookings.queries.explaining import (
    explained,
    offering_named,
    student_numbered,
    teacher_of_email,
)
from bookings.queries.teaching import zone_of_hours


class Command(BaseCommand):
    help = (
        "Says why a start is or is not offered: every rule that stands against it, with its "
        "numbers."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("offering", help="its name")
        parser.add_argument("instructor", help="their email address")
        parser.add_argument("starts_at", help="with an offset, such as 2027-03-12T17:30:00+00:00")
        parser.add_argument(
            "--student",
            type=int,
            help="a student's number; without one, an adult with an empty diary",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            offering = offering_named(options["offering"])
            instructor = teacher_of_email(options["instructor"])
            student = student_numbered(options["student"]) if options["student"] else None
            starts_at = datetime.fromisoformat(options["starts_at"])
            told = explained(
                offering=offering,
                instructor=instructor,
                student=student,
                starts_at=starts_at,
                now=clock.now(),
                is_family=False,
            )
        except ValueError:
            raise CommandError(
                f"{options['starts_at']!r} is no time: write 2027-03-12T17:30:00+00:00."
            ) from None
        except Refused as refusal:
            raise CommandError(refusal.detail) from None
        clocks = dict.fromkeys([zone_of_hours(instructor), *([student.zone] if student else [])])
        self.stdout.write(", ".join(spoken(starts_at, time_zone) for time_zone in clocks))
        if not told.reasons:
            self.stdout.write(
                "Offered."
                if told.slot is None
                else f"Offered, fit {told.slot.fit}: {' '.join(told.slot.reasons)}"
            )
        for reason in told.reasons:
            self.stdout.write(f"{reason.rule}: {reason.sentence}")
            numbers = ", ".join(f"{name} {value}" for name, value in reason.numbers.items())
            self.stdout.write(f"    {reason.code}" + (f"; {numbers}" if numbers else ""))
