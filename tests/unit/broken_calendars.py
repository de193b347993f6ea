"""Calendars broken in ways of our own, by name.

Each is refused; none says anything that could be stored.
"""

import gzip

from tests.unit.calendars_samples import calendar_of, entry

AT = "DTSTART:20270302T100000Z"
HOUR = "DURATION:PT1H"
WHOLE = calendar_of(entry(AT, HOUR))


def rule(text: str) -> bytes:
    return calendar_of(entry(AT, HOUR, f"RRULE:{text}"))


def freebusy(period: str) -> bytes:
    return calendar_of(f"BEGIN:VFREEBUSY\r\nFREEBUSY:{period}\r\nEND:VFREEBUSY\r\n")


def own_zone(*lines: str) -> bytes:
    zone = "".join(f"{line}\r\n" for line in ("BEGIN:VTIMEZONE", *lines, "END:VTIMEZONE"))
    return calendar_of(zone, entry("DTSTART;TZID=Ours:20270302T100000", HOUR))


ONSET = (
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0100",
    "END:STANDARD",
)

BROKEN: dict[str, bytes] = {
    "nothing": b"",
    "blank lines": b"\r\n \r\n\r\n",
    "a byte order mark alone": b"\xef\xbb\xbf",
    "a page": b"<!doctype html><title>Sign in</title>",
    "JSON": b'{"busy": []}',
    "a picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "packed": gzip.compress(WHOLE),
    "UTF-16": WHOLE.decode().encode("utf-16"),
    "not UTF-8": WHOLE.replace(b"Elsewhere", b"Els\xe9where"),
    "a cut character": WHOLE[:-2] + b"\xc3",
    "NUL": WHOLE.replace(b"Elsewhere", b"Else\x00where"),
    "a card of a person": b"BEGIN:VCARD\r\nVERSION:4.0\r\nFN:Noor\r\nEND:VCARD\r\n",
    "an entry without a calendar": entry(AT, HOUR).encode(),
    "a line before the calendar": b"X-HELLO:1\r\n" + WHOLE,
    "an entry after the calendar": WHOLE + entry(AT, HOUR).encode(),
    "cut in the middle": WHOLE[: len(WHOLE) // 2],
    "without its end": WHOLE.replace(b"END:VCALENDAR\r\n", b""),
    "without an entry's end": WHOLE.replace(b"END:VEVENT\r\n", b""),
    "ends crossed": calendar_of("BEGIN:VEVENT\r\nBEGIN:VALARM\r\nEND:VEVENT\r\nEND:VALARM\r\n"),
    "a calendar in a calendar": calendar_of(WHOLE.decode()),
    "an entry in an entry": calendar_of(
        "BEGIN:VEVENT\r\n" + AT + "\r\n" + entry(AT, HOUR) + "END:VEVENT\r\n"
    ),
    "a zone's part outside a zone": calendar_of("\r\n".join([*ONSET, ""])),
    "entries without end": calendar_of("BEGIN:X\r\n" * 2000 + "END:X\r\n" * 2000),
    "a line that is no property": calendar_of(entry(AT, HOUR, "hello there")),
    "a line that begins with a colon": calendar_of(entry(AT, HOUR, ":20270302")),
    "a property without a value": calendar_of(entry("DTSTART", HOUR)),
    "a quote without its end": calendar_of(
        entry('DTSTART;TZID="Europe/Dublin:20270302T100000', HOUR)
    ),
    "a parameter without a value": calendar_of(entry("DTSTART;TZID:20270302T100000", HOUR)),
    "no start": calendar_of(entry(HOUR)),
    "an empty start": calendar_of(entry("DTSTART:", HOUR)),
    "a start in words": calendar_of(entry("DTSTART:tomorrow at ten", HOUR)),
    "a start in another spelling": calendar_of(entry("DTSTART:2027-03-02T10:00:00Z", HOUR)),
    "a start with an offset": calendar_of(entry("DTSTART:20270302T100000+0100", HOUR)),
    "two starts": calendar_of(entry(AT, AT, HOUR)),
    "30 February": calendar_of(entry("DTSTART:20270230T100000Z", HOUR)),
    "month 13": calendar_of(entry("DTSTART;VALUE=DATE:20271301")),
    "year 0": calendar_of(entry("DTSTART;VALUE=DATE:00000101")),
    "25 o'clock": calendar_of(entry("DTSTART:20270302T250000Z", HOUR)),
    "minute 60": calendar_of(entry("DTSTART:20270302T106000Z", HOUR)),
    "other digits": calendar_of(entry("DTSTART:２０２７０３０２T100000Z", HOUR)),
    "an end before the start": calendar_of(entry(AT, "DTEND:20270302T090000Z")),
    "a date's end before its start": calendar_of(
        entry("DTSTART;VALUE=DATE:20270302", "DTEND;VALUE=DATE:20270301")
    ),
    "a time that ends on a date": calendar_of(entry(AT, "DTEND;VALUE=DATE:20270303")),
    "an end and a duration": calendar_of(entry(AT, "DTEND:20270302T110000Z", HOUR)),
    "a duration below nothing": calendar_of(entry(AT, "DURATION:-PT1H")),
    "a duration of nothing at all": calendar_of(entry(AT, "DURATION:P")),
    "a duration in words": calendar_of(entry(AT, "DURATION:1 hour")),
    "a duration of weeks and hours": calendar_of(entry(AT, "DURATION:P1WT1H")),
    "a duration without end": calendar_of(entry(AT, "DURATION:P" + "9" * 400 + "D")),
    "a duration beyond the calendar": calendar_of(
        entry("DTSTART:99981231T100000Z", "DURATION:P99999W", "RRULE:FREQ=DAILY")
    ),
    "a sequence in words": calendar_of(entry(AT, HOUR, "SEQUENCE:two")),
    "an instance of no date": calendar_of(entry("UID:a", AT, HOUR, "RECURRENCE-ID:first")),
    "a date taken out that is none": calendar_of(
        entry(AT, HOUR, "RRULE:FREQ=DAILY", "EXDATE:never")
    ),
    "a date added that is none": calendar_of(entry(AT, HOUR, "RDATE:20270303T100000Z,")),
    "a period added that is none": calendar_of(
        entry(AT, HOUR, "RDATE;VALUE=PERIOD:20270303T100000Z/")
    ),
    "a rule that is empty": rule(""),
    "a rule without FREQ": rule("COUNT=3"),
    "a rule of an unknown FREQ": rule("FREQ=FORTNIGHTLY"),
    "a rule with two FREQ": rule("FREQ=DAILY;FREQ=WEEKLY"),
    "a rule with COUNT and UNTIL": rule("FREQ=DAILY;COUNT=3;UNTIL=20270305T100000Z"),
    "COUNT 0": rule("FREQ=DAILY;COUNT=0"),
    "COUNT below 0": rule("FREQ=DAILY;COUNT=-1"),
    "INTERVAL 0": rule("FREQ=DAILY;INTERVAL=0"),
    "INTERVAL below 0": rule("FREQ=DAILY;INTERVAL=-1"),
    "UNTIL a day that is none": rule("FREQ=DAILY;UNTIL=20270231T100000Z"),
    "UNTIL in words": rule("FREQ=DAILY;UNTIL=SPRING"),
    "an unknown weekday": rule("FREQ=WEEKLY;BYDAY=XX"),
    "weekday 0": rule("FREQ=MONTHLY;BYDAY=0MO"),
    "month 13 in a rule": rule("FREQ=YEARLY;BYMONTH=13"),
    "day 32": rule("FREQ=MONTHLY;BYMONTHDAY=32"),
    "day 0": rule("FREQ=MONTHLY;BYMONTHDAY=0"),
    "week 54": rule("FREQ=YEARLY;BYWEEKNO=54"),
    "hour 24": rule("FREQ=DAILY;BYHOUR=24"),
    "a part nobody knows": rule("FREQ=DAILY;BYMOON=FULL"),
    "a part without a value": rule("FREQ=DAILY;COUNT"),
    "a free period that is none": freebusy("20270302T100000Z"),
    "a free period not in UTC": freebusy("20270302T100000/20270302T110000"),
    "a free period backwards": freebusy("20270302T110000Z/20270302T100000Z"),
    "a free period below nothing": freebusy("20270302T110000Z/-PT1H"),
    "a zone without a part": own_zone("TZID:Ours"),
    "a zone without an offset": own_zone("TZID:Ours", ONSET[0], ONSET[1], ONSET[3], ONSET[4]),
    "a zone with offset 99": own_zone("TZID:Ours", *ONSET[:2], "TZOFFSETFROM:+9900", *ONSET[3:]),
    "a zone that begins too early": own_zone(
        "TZID:Ours", ONSET[0], "DTSTART:00010101T000000", *ONSET[2:]
    ),
}

BOMBS: dict[str, bytes] = {
    "by the second": rule("FREQ=SECONDLY"),
    "by the minute": rule("FREQ=MINUTELY;COUNT=10"),
    "by the hour": rule("FREQ=HOURLY"),
    "every second of every day": rule(
        f"FREQ=DAILY;BYHOUR={','.join(map(str, range(24)))};"
        f"BYMINUTE={','.join(map(str, range(60)))}"
    ),
    "501 times": rule("FREQ=DAILY;COUNT=501"),
    "a billion times": rule("FREQ=DAILY;COUNT=999999999"),
    "for six years": rule("FREQ=DAILY;UNTIL=20330302T100000Z"),
    "for ever by its UNTIL": rule("FREQ=YEARLY;UNTIL=99991231T235959Z"),
    "since before the calendar": calendar_of(
        entry("DTSTART:00010101T000000Z", HOUR, "RRULE:FREQ=DAILY")
    ),
    "on days that never come": rule("FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"),
    "on days that never come, many of them": calendar_of(
        *(entry(AT, HOUR, "RRULE:FREQ=MONTHLY;BYMONTHDAY=31;BYMONTH=2,4,6") for _ in range(500))
    ),
    "three rules": calendar_of(entry(AT, HOUR, *["RRULE:FREQ=DAILY"] * 3)),
    "long daily repetitions, many of them": calendar_of(
        *(entry("DTSTART:19000101T000000Z", HOUR, "RRULE:FREQ=DAILY") for _ in range(2000))
    ),
    "1,001 dates added": calendar_of(
        entry(AT, HOUR, "RDATE:" + ",".join(["20270303T100000Z"] * 1001))
    ),
    "1,001 dates taken out": calendar_of(
        entry(AT, HOUR, "RRULE:FREQ=DAILY", *["EXDATE:20270303T100000Z"] * 1001)
    ),
    "20,000 entries": calendar_of(entry("DTSTART:20270302") * 20_000),
    "more periods than a year has use for": calendar_of(
        *(
            entry(f"DTSTART:2027{month:02}{day:02}T{hour:02}{minute:02}00Z", "DURATION:PT1M")
            for month in range(4, 8)
            for day in range(1, 29)
            for hour in range(24)
            for minute in (0, 20, 40)
        )
    ),
    "longer than 2 MB": calendar_of(entry(AT, HOUR, "DESCRIPTION:" + "a" * 2_000_000)),
}
