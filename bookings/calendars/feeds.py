"""The body of a subscribed calendar (RFC 5545, RFC 7986)."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from icalendar import FreeBusy, vDatetime, vDuration, vPeriod, vText

from bookings.calendars.events import CalendarEvent, Party, address_of, to_ical, to_vevent
from bookings.calendars.text import one_line
from bookings.domain.timeline import Horizon, Period, periods

REFRESH = timedelta(hours=1)
"""How often a calendar is asked to fetch again; the same for everyone (RFC 7986 section 8)."""


def feed(
    name: str,
    time_zone: str,
    events: Iterable[CalendarEvent],
    window_first: datetime,
    window_last: datetime,
) -> bytes:
    """The feed called `name` for a reader in `time_zone`, with the `events` of [window_first,
    window_last) (aware instants).

    The same input gives the same bytes. There is no METHOD, so DTSTAMP is the last revision (RFC
    5545 section 3.8.7.2); no ATTENDEE (section 3.8.4.1); and no UID on the calendar, which would
    merge all meetings into one for some programs. An empty feed is still valid: it holds the
    reader's VTIMEZONE.
    """
    events = sorted(events, key=lambda event: (event.starts_at, event.uid))
    return to_ical(
        (to_vevent(event) for event in events),
        min([window_first, *(event.starts_at for event in events)]),
        max([window_last, *(event.ends_at for event in events)]),
        zones=[time_zone],
        properties=_properties(name, time_zone),
    )


def free_busy_file(
    name: str,
    time_zone: str,
    busy: Iterable[Period],
    window_first: datetime,
    window_last: datetime,
    *,
    uid: str,
    stamp: datetime,
    organizer: Party,
) -> bytes:
    """The feed called `name` of one VFREEBUSY (RFC 5545 section 3.6.4): when somebody is taken, not
    by what.

    `busy` is rounded outward to five minutes and periods that touch become one, so that nobody can
    count meetings. Times are UTC. A published VFREEBUSY needs ORGANIZER (section 3.8.4.3).
    """
    horizon = Horizon.spanning(window_first, window_last)
    taken = FreeBusy()
    taken["UID"] = vText(uid)
    taken["DTSTAMP"] = vDatetime(stamp.astimezone(UTC))
    taken["DTSTART"], taken["DTEND"] = (
        vDatetime(window_first.astimezone(UTC)),
        vDatetime(window_last.astimezone(UTC)),
    )
    taken["ORGANIZER"] = address_of(organizer)
    told = [
        vPeriod((period.starts_at, period.ends_at))
        for period in periods(horizon.busy_mask(tuple(busy)), horizon)
    ]
    if told:
        taken["FREEBUSY"] = told
    return to_ical(
        [taken],
        window_first,
        window_last,
        zones=[time_zone],
        properties=_properties(name, time_zone),
    )


def _properties(name: str, time_zone: str) -> dict[str, object]:
    # NAME and REFRESH-INTERVAL are the standard's; calendars in use read the X- names. icalendar
    # does not know their types and would write the name without its escapes.
    return {
        "name": vText(one_line(name)),
        "x-wr-calname": vText(one_line(name)),
        "x-wr-timezone": time_zone,
        "refresh-interval": vDuration(REFRESH, params={"VALUE": "DURATION"}),
        "x-published-ttl": vDuration(REFRESH),
    }
