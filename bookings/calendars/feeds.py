"""The body of a subscribed calendar (RFC 5545, RFC 7986)."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from icalendar import vDuration, vText

from bookings.calendars.events import CalendarEvent, to_ical, to_vevent
from bookings.calendars.text import one_line

REFRESH = timedelta(hours=1)
"""How often a calendar is asked to look again; the same for everyone (RFC 7986 section 8)."""


def feed(name: str, time_zone: str, events: Iterable[CalendarEvent], window_first: datetime, window_last: datetime) -> bytes:
    """The feed called `name` for a reader in `time_zone`, holding `events` of [window_first, window_last) (aware instants).

    The same input gives the same bytes. No METHOD, so DTSTAMP tells the last revision (RFC 5545 section 3.8.7.2); no
    ATTENDEE (section 3.8.4.1); no UID on the calendar, which would merge all meetings into one for some subscribers. An
    empty feed is still valid: it holds the reader's VTIMEZONE.
    """
    events = sorted(events, key=lambda event: (event.starts_at, event.uid))
    return to_ical(
        (to_vevent(event) for event in events),
        min([window_first, *(event.starts_at for event in events)]),
        max([window_last, *(event.ends_at for event in events)]),
        zones=[time_zone],
        # NAME and REFRESH-INTERVAL are the standard's; the X- names are what calendars in use read. icalendar knows the
        # type of none of them and would write the name without its escapes.
        properties={
            "name": vText(one_line(name)),
            "x-wr-calname": vText(one_line(name)),
            "x-wr-timezone": time_zone,
            "refresh-interval": vDuration(REFRESH, params={"VALUE": "DURATION"}),
            "x-published-ttl": vDuration(REFRESH),
        },
    )
