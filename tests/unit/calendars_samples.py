"""Meetings of the invented school for calendar tests: the told ones behind tests/golden, and
generated ones.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st

from bookings.calendars.events import CalendarEvent, Party

SCHOOL = Party("lessons@rowanmere.example", "Rowanmere Online Harp School")
NOOR = Party("noor.ashgrove@rowanmere.example", "Noor Ashgrove")
MARLO = Party("marlo.vance@rowanmere.example", 'Marlo "Lo" Vance; guest: one, two')

CONSULTATION = CalendarEvent(
    uid="6b0d9a52-6a0c-4a0e-8a57-2f7f4c1f7f01",
    sequence=0,
    stamp=datetime(2027, 3, 1, 9, 0, tzinfo=UTC),
    starts_at=datetime(2027, 3, 15, 21, 0, tzinfo=UTC),
    ends_at=datetime(2027, 3, 15, 21, 25, tzinfo=UTC),
    time_zone="Australia/Lord_Howe",
    summary="Consultation with B. Tolliver",
    description=(
        "Bring: the étude, bars 12–20; your questions\\notes.\nThe answer by 14 March, 21:00 UTC."
    ),
    join_address="https://meet.rowanmere.example/r/9f2c?a=1,2;b",
    created=datetime(2027, 3, 1, 9, 0, tzinfo=UTC),
    last_modified=datetime(2027, 3, 1, 9, 0, tzinfo=UTC),
)
GROUP = CalendarEvent(
    uid="d2c1f3b4-5e6a-4b7c-9d8e-0f1a2b3c4d02",
    sequence=3,
    stamp=datetime(2027, 3, 2, 10, 30, tzinfo=UTC),
    starts_at=datetime(2027, 3, 20, 18, 0, tzinfo=UTC),
    ends_at=datetime(2027, 3, 20, 19, 0, tzinfo=UTC),
    time_zone="Europe/Dublin",
    summary=(
        "Group meeting with I. Quarrow: hands together, slowly; then faster — ends on a chord 🎵"
    ),
)
REPEATED_HOUR = replace(
    GROUP,
    uid="f0e1d2c3-b4a5-4968-8776-655443322103",
    starts_at=datetime(2027, 11, 7, 6, 30, tzinfo=UTC),
    ends_at=datetime(2027, 11, 7, 7, 20, tzinfo=UTC),
    time_zone="America/New_York",
    summary="Private lesson with W. Halloway",
    status="TENTATIVE",
)
CALLED_OFF = replace(
    CONSULTATION,
    uid="0a9b8c7d-6e5f-4a4b-8c3d-2e1f0a9b8c04",
    sequence=1,
    status="CANCELLED",
    time_zone="Asia/Kathmandu",
)
WINDOW = (datetime(2027, 2, 1, tzinfo=UTC), datetime(2028, 3, 1, tzinfo=UTC))

# Offset changes of tzdata 2026f, 2026-2027 (confirmed by a second reader of the same data, zdump).
# Vancouver's last
# changes the name alone; Morocco's last and British Columbia's first are permanent.
TRANSITIONS = {
    "Europe/London": [
        "2026-03-29T01:00Z",
        "2026-10-25T01:00Z",
        "2027-03-28T01:00Z",
        "2027-10-31T01:00Z",
    ],
    "Europe/Dublin": [
        "2026-03-29T01:00Z",
        "2026-10-25T01:00Z",
        "2027-03-28T01:00Z",
        "2027-10-31T01:00Z",
    ],
    "America/New_York": [
        "2026-03-08T07:00Z",
        "2026-11-01T06:00Z",
        "2027-03-14T07:00Z",
        "2027-11-07T06:00Z",
    ],
    "Australia/Lord_Howe": [
        "2026-04-04T15:00Z",
        "2026-10-03T15:30Z",
        "2027-04-03T15:00Z",
        "2027-10-02T15:30Z",
    ],
    "America/Vancouver": ["2026-03-08T10:00Z", "2026-11-01T09:00Z"],
    "Africa/Casablanca": ["2026-02-15T02:00Z", "2026-03-22T02:00Z", "2026-09-20T01:00Z"],
    "Asia/Kathmandu": [],
}
CHANGES = [
    (name, datetime.fromisoformat(at)) for name, instants in TRANSITIONS.items() for at in instants
]

_any_time = st.tuples(
    st.sampled_from(
        [*TRANSITIONS, "Pacific/Chatham", "America/Santiago", "Antarctica/Troll", "UTC"]
    ),
    st.datetimes(datetime(2025, 1, 1), datetime(2030, 1, 1), timezones=st.just(UTC)),
)
_near_a_change = st.tuples(st.sampled_from(CHANGES), st.integers(-24, 24)).map(
    lambda drawn: (drawn[0][0], drawn[0][1] + drawn[1] * timedelta(minutes=5))
)
typed_text = st.text(st.characters(), max_size=120) | st.text(
    st.sampled_from("\r\n\x00\x07\x1c\x85\u2028\u2029\\;,:\"^' \té🎵a"), max_size=200
)


@st.composite
def events(draw: st.DrawFn) -> CalendarEvent:
    """Any meeting that the project could hold, at whole seconds, often near a clock change, with
    any text that people can type.
    """
    time_zone, starts_at = draw(_any_time | _near_a_change)
    starts_at = starts_at.replace(microsecond=0)
    return CalendarEvent(
        uid=str(draw(st.uuids(version=4))),
        sequence=draw(st.integers(0, 2**31 - 1)),
        stamp=starts_at - timedelta(days=3),
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=draw(st.integers(1, 300))),
        time_zone=time_zone,
        summary=draw(typed_text),
        description=draw(typed_text),
        status=draw(st.sampled_from(["TENTATIVE", "CONFIRMED", "CANCELLED"])),
        join_address=draw(st.sampled_from(["", "https://meet.rowanmere.example/r/9f2c?a=1,2;b"])),
    )


def entry(*lines: str) -> str:
    """A VEVENT of these lines, as a foreign calendar may hold it."""
    return "".join(f"{line}\r\n" for line in ("BEGIN:VEVENT", *lines, "END:VEVENT"))


def calendar_of(*parts: str) -> bytes:
    """An iCalendar file of these components."""
    return (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Elsewhere//EN\r\n"
        + "".join(parts)
        + "END:VCALENDAR\r\n"
    ).encode()


def zone_of(tzid: str, *rules: str) -> str:
    """A VTIMEZONE that is 2:30 ahead of UTC in winter and 3:30 in summer, as no IANA zone is."""
    winter = [
        "BEGIN:STANDARD",
        "DTSTART:19701025T030000",
        "TZOFFSETFROM:+0330",
        "TZOFFSETTO:+0230",
        *(rules or ["RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10"]),
    ]
    summer = [
        "BEGIN:DAYLIGHT",
        "DTSTART:19700329T020000",
        "TZOFFSETFROM:+0230",
        "TZOFFSETTO:+0330",
        "RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3",
    ]
    lines = [
        "BEGIN:VTIMEZONE",
        f"TZID:{tzid}",
        *winter,
        "END:STANDARD",
        *summer,
        "END:DAYLIGHT",
        "END:VTIMEZONE",
    ]
    return "".join(f"{line}\r\n" for line in lines)
