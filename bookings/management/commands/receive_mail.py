"""`manage.py receive_mail`: reads one mail on standard input, as a mail server's pipe delivers
it.
"""

import os
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import Error

from bookings import clock
from bookings.calendars.replies import MOST_BYTES, Ignored, Reason
from bookings.domain.errors import Refused
from bookings.door import outage, write
from bookings.inbound.answers import read
from bookings.operations.ignored import count_ignored
from bookings.operations.replies import hear


class Command(BaseCommand):
    help = (
        "Reads what a calendar answered to an invitation. Ends with 0 when the mail is dealt with "
        "or ignored, and with 75 (EX_TEMPFAIL "
        "of sysexits) when the database is away, so that the mail server tries again. It answers "
        "nobody it does not know."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--to",
            default="",
            help="the envelope's recipient; without it the mail's own lines are read",
        )
        parser.add_argument(
            "--sender",
            default=None,
            help="the envelope's sender; an empty one is a bounce and is ignored",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        mail = sys.stdin.buffer.read(MOST_BYTES + 1)
        while sys.stdin.buffer.read(65_536):
            pass  # read to the end, so that the mail server's pipe does not break
        try:
            self._take(mail, options["to"], options["sender"])
        except Refused as refusal:
            if refusal.code == "busy":
                sys.exit(os.EX_TEMPFAIL)
            raise
        except Error as error:
            if outage(error) is None:
                raise
            sys.exit(os.EX_TEMPFAIL)

    def _take(self, mail: bytes, to: str, sender: str | None) -> None:
        now = clock.now()
        try:
            answer = read(mail, to=to, sender=sender, authserv_id=settings.REPLY_AUTHSERV_ID)
            write(lambda: hear(answer, now=now), now=now)
        except Ignored as ignored:
            reason = ignored.reason
        except Refused as refusal:
            if refusal.code == "busy":
                raise
            reason = Reason.REFUSED
        else:
            return
        write(lambda: count_ignored(reason, now=now), now=now)
