"""The email to those whom the school has not chosen to play."""

from collections.abc import Iterable
from datetime import datetime

from bookings.models import Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import times
from bookings.notices.people import by_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import email_text, link, listed


def not_chosen(
    meeting: Meeting, applied: Iterable[WaitingPlace], *, now: datetime
) -> list[OutboxMessage]:
    """One email to each reader: who is not among the players, and that they may listen."""
    post = MeetingPost(meeting, [], now)
    messages = []
    for reader, theirs in by_reader(applied, now).items():
        whom = names(reader, theirs)
        verb = "are" if len(whom) > 1 or whom == ["you"] else "is"
        said = listed(whom)
        opening = (
            f"The school has chosen the players of {named(meeting)}. "
            f"{said[0].upper()}{said[1:]} {verb} not among them this time."
        )
        listen = ""
        if meeting.listener_places > meeting.listeners_taken:
            page = link(f"/meetings/{meeting.pk}/")
            listen = f"Book a place to listen while there are free ones: {page}"
        body = email_text(reader.name, [opening, times(meeting, reader), listen])
        title = f"The players have been chosen: {named(meeting)}"
        messages.append(post.tell(reader, f"not-chosen:{meeting.version}", title, body))
    return messages
