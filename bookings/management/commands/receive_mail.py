"""`manage.py receive_mail`: reads one mail on standard input, as a mail server's pipe delivers
it.
"""

import os
import sys
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import Error

from bookings import clock
from bookings.calendars.ignoring import MOST_BYTES, Ignored, WhyIgnored
from bookings.calendars.replies import CalendarReply
from bookings.calendars.reports import MailReport
from bookings.domain.errors import Refused
from bookings.door import outage, write
from bookings.inbound.answers import read
from bookings.operations.email_troubles import hear_report
from bookings.operations.ignored_mail import count_ignored
from bookings.operations.replies import hear


class Command(BaseCommand):
    help = (
        "Reads what a calendar answered to an invitation, or what a mail server reports of an "
        "email that did not arrive or was not wanted. Ends with 0 when the mail is dealt with "
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
            help="the envelope's sender; a report that an email did not arrive has an empty one",
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
            heard = read(mail, to=to, sender=sender, authserv_id=settings.REPLY_AUTHSERV_ID)
            write(lambda: _act(heard, now), now=now)
        except Ignored as ignored:
            reason = ignored.reason
        except Refused as refusal:
            if refusal.code == "busy":
                raise
            reason = WhyIgnored.REFUSED
        else:
            return
        write(lambda: count_ignored(reason, now=now), now=now)


def _act(heard: CalendarReply | MailReport, now: datetime) -> None:
    if isinstance(heard, MailReport):
        hear_report(heard, now=now)
    else:
        hear(heard, now=now)
