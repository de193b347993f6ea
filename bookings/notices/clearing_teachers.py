"""The email to an instructor whose hours are cleared: what became of their meetings."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.notices.clearing_parts import Off, Part, calendars_follow
from bookings.notices.meetings import why_called_off
from bookings.notices.rows import MeetingPost
from bookings.notices.wording import TEACHING, email_text


def to_who_is_away(reader: User, parts: Sequence[Part], now: datetime) -> list[OutboxMessage]:
    """One email about all their meetings, and one for the calendar for each.

    A lesson of the instructor's own child that takes place is told to them as its family.
    """
    theirs = [part for part in parts if reader not in part.readers]
    entries = [part.entry(reader) for part in theirs]
    if len(theirs) < 2:
        return entries
    told = []
    for heading in dict.fromkeys(part.heading for part in theirs):
        lines = [part.line(reader) for part in theirs if part.heading == heading]
        told.append(f"{heading}:\n" + "\n".join(lines))
    told += dict.fromkeys(why_called_off(part.meeting) for part in theirs if isinstance(part, Off))
    told.append("Everybody in them has been told.")
    bare = [message for message in entries if message.method]
    told.append(calendars_follow(len(bare), of=len(theirs), each="each meeting"))
    first = theirs[0].meeting
    together = MeetingPost(first, [reader], now).tell(
        reader,
        f"cleared-teaching:{first.sequence}",
        f"{len(theirs)} of your meetings have changed",
        email_text(reader.name, told, changes=TEACHING),
    )
    return [together, *bare]
