"""Emails to a family whose student the school puts on a waiting list or takes off it.

Why is for the record of the school alone.
"""

from datetime import datetime

from bookings.domain.ranks import in_words
from bookings.models import OutboxMessage, WaitingPlace
from bookings.notices.families import times
from bookings.notices.people import by_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import email_text, link, listed, possessive, short_time


def added_to_waiting_list(waiting: WaitingPlace, *, now: datetime) -> list[OutboxMessage]:
    """The school has put a student on the waiting list. Needs `rank`."""
    rank = in_words(waiting.rank or 1)
    page = link(f"/meetings/{waiting.meeting_id}/")
    return _told(
        waiting,
        "On the waiting list",
        "The school has put {who} on the waiting list: {what}.",
        "{whose} position is " + rank + ". A free place is offered by email, "
        "in order of joining.\n\n"
        f"To leave the list: {page}",
        now,
    )


def removed_from_waiting_list(waiting: WaitingPlace, *, now: datetime) -> list[OutboxMessage]:
    """The school has taken a student off the waiting list, to whom no place was offered."""
    return _told(
        waiting,
        "Off the waiting list",
        "The school has taken {who} off the waiting list: {what}.",
        "",
        now,
    )


def _told(
    waiting: WaitingPlace, title: str, opening: str, more: str, now: datetime
) -> list[OutboxMessage]:
    meeting = waiting.meeting
    post, messages = MeetingPost(meeting, [], now), []
    for reader, theirs in by_reader([waiting], now).items():
        people = names(reader, theirs)
        said = {"who": listed(people), "whose": possessive(people), "what": named(meeting)}
        body = email_text(
            reader.name, [opening.format(**said), times(meeting, reader), more.format(**said)]
        )
        heading = f"{title}: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
        state_key = f"waiting:{waiting.pk}:{'added' if more else 'removed'}"
        messages.append(post.tell(reader, state_key, heading, body, good_until=meeting.starts_at))
    return messages
