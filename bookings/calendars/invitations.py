"""The calendar objects about one meeting: those mailed to one person, and the file to download (RFC
5546).

Each object names only its one recipient, so that nobody learns who else is in a group (RFC 5546
section 6.3).
"""

from dataclasses import replace

from bookings.calendars.events import CalendarEvent, Party, to_ical, to_vevent
from bookings.domain.vocabulary import MeetingStatus


def request(
    event: CalendarEvent,
    organizer: Party,
    recipient: Party,
    partstat: str = "ACCEPTED",
    *,
    rsvp: bool = False,
) -> bytes:
    """METHOD:REQUEST (RFC 5546 section 3.2.2): a new or changed meeting.

    Whoever booked has accepted; others are NEEDS-ACTION. `rsvp` asks for an answer by mail, if the
    school's mail server passes answers on. ValueError for a cancelled meeting: STATUS may only be
    TENTATIVE or CONFIRMED here.
    """
    if event.status == MeetingStatus.CANCELLED:
        raise ValueError("a cancelled meeting is not requested; use cancel()")
    vevent = to_vevent(event, organizer, recipient, partstat=partstat, rsvp=rsvp)
    return to_ical([vevent], event.starts_at, event.ends_at, properties={"method": "REQUEST"})


def cancel(event: CalendarEvent, organizer: Party, recipient: Party, whole: bool) -> bytes:
    """METHOD:CANCEL (RFC 5546 section 3.2.5), without the join address.

    `event.sequence` is already the higher one.

    `whole` means that the meeting is off. Otherwise only the recipient is out of it, and STATUS
    must be absent.
    """
    vevent = to_vevent(
        replace(event, status=MeetingStatus.CANCELLED, join_address=""), organizer, recipient
    )
    if not whole:
        del vevent["STATUS"]
    return to_ical([vevent], event.starts_at, event.ends_at, properties={"method": "CANCEL"})


def decline_counter(event: CalendarEvent, organizer: Party, recipient: Party) -> bytes:
    """METHOD:DECLINECOUNTER (RFC 5546 section 3.2.8): the requested start is refused.

    UID and SEQUENCE are those of the COUNTER.
    """
    vevent = to_vevent(event, organizer, recipient)
    return to_ical(
        [vevent], event.starts_at, event.ends_at, properties={"method": "DECLINECOUNTER"}
    )


def download(event: CalendarEvent, organizer: Party) -> bytes:
    """METHOD:PUBLISH (RFC 5546 section 3.2.1): one meeting as a file. It names no attendee."""
    return to_ical(
        [to_vevent(event, organizer)],
        event.starts_at,
        event.ends_at,
        properties={"method": "PUBLISH"},
    )
