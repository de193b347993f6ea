"""What a foreign calendar says about being busy, against the standard's own examples and a plain
reading of each property.
"""

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bookings.calendars.busy import busy
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH
from tests.architecture.tree import ROOT
from tests.unit.busy_calendars import NOW, said
from tests.unit.calendars_samples import calendar_of, entry

# RFC 5545 section 3.8.5.3: its 39 worked examples with the starts printed beside them, all at New
# York.
EXAMPLES = json.loads(
    (ROOT / "tests/golden/rfc5545_3.8.5.3_rrule.json").read_text(encoding="utf-8")
)
NEW_YORK = ZoneInfo("America/New_York")


def wall(text: str) -> datetime:
    return datetime.strptime(text, "%Y%m%dT%H%M%S").replace(tzinfo=NEW_YORK)


@pytest.mark.parametrize(
    "example",
    [example for example in EXAMPLES if not example.get("note")],
    ids=lambda e: e["rules"][0][:60],
)
def test_the_standards_examples_are_worked_out(example: dict[str, object]) -> None:
    """Each rule gives the printed starts and no other up to the last of them; what repeats by hour
    or minute is refused by name.
    """
    expected = [wall(text).astimezone(UTC) for text in example["expect"]]
    for rule in example["rules"]:  # type: ignore[attr-defined]
        lines = [
            f"DTSTART;TZID=America/New_York:{example['dtstart']}",
            "DURATION:PT1M",
            f"RRULE:{rule}",
        ]
        lines += [f"EXDATE;TZID=America/New_York:{text}" for text in example["exdate"]]
        since = wall(str(example["dtstart"])) - timedelta(days=1)
        until = max(expected) + timedelta(minutes=5 if example["unbounded"] else 60 * 24 * 400)

        def work_out(
            lines: list[str] = lines, since: datetime = since, until: datetime = until
        ) -> list[datetime]:
            cells = busy(calendar_of(entry(*lines)), "Asia/Kathmandu", since, until).cells
            return [EPOCH + first * CELL for first, _ in cells]

        if "HOURLY" in rule or "MINUTELY" in rule:
            with pytest.raises(Refused, match="by the hour, minute or second"):
                work_out()
        else:
            assert work_out() == expected


def test_the_examples_left_out_are_few() -> None:
    """One printed example contradicts itself (UNTIL 17:00Z is 13:00 in New York, yet 15:00 is
    listed); it is the only one not used.
    """
    assert len(EXAMPLES) == 39
    assert [example["rules"] for example in EXAMPLES if example.get("note")] == [
        ["FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z"]
    ]


def test_the_series_of_rfc_5546() -> None:
    """RFC 5546 section 4.4.1: twenty Tuesdays, one added, two taken out: 19 starts, an hour later
    in UTC once the clocks have changed.
    """
    found = said(
        entry(
            "DTSTART;TZID=America/Los_Angeles:19970701T140000",
            "DTEND;TZID=America/Los_Angeles:19970701T150000",
            "RRULE:FREQ=WEEKLY;COUNT=20;WKST=SU;BYDAY=TU",
            "RDATE;TZID=America/Los_Angeles:19970910T140000",
            "EXDATE;TZID=America/Los_Angeles:19970909T140000",
            "EXDATE;TZID=America/Los_Angeles:19971028T140000",
        ),
        since=datetime(1997, 6, 1, tzinfo=UTC),
        until=datetime(1998, 6, 1, tzinfo=UTC),
    )
    days = [
        "0701",
        "0708",
        "0715",
        "0722",
        "0729",
        "0805",
        "0812",
        "0819",
        "0826",
        "0902",
        "0910",
        "0916",
        "0923",
        "0930",
    ]
    days += ["1007", "1014", "1021"]
    expected = [f"1997-{day[:2]}-{day[2:]}T21:00/22:00" for day in days]
    assert found == [*expected, "1997-11-04T22:00/23:00", "1997-11-11T22:00/23:00"]


def test_who_is_busy_and_who_is_not() -> None:
    """TRANSPARENT and CANCELLED are not busy; OPAQUE, TENTATIVE, CONFIRMED and unknown words are
    (RFC 5545 3.8.2.7, 3.8.1.11).
    """

    def at(hour: int, *lines: str) -> str:
        return entry(f"DTSTART:20270302T{hour:02}0000Z", "DURATION:PT30M", *lines)

    found = said(
        at(1, "TRANSP:TRANSPARENT"),
        at(2, "STATUS:CANCELLED"),
        at(3, "transp:transparent"),
        at(4, "TRANSP:OPAQUE"),
        at(5, "STATUS:TENTATIVE"),
        at(6, "STATUS:CONFIRMED"),
        at(7, "TRANSP:X-MAYBE"),
        at(8, "RRULE:FREQ=DAILY;COUNT=2", "TRANSP:TRANSPARENT"),
        at(9, "RRULE:FREQ=DAILY;COUNT=2", "STATUS:CANCELLED"),
    )
    assert found == [f"2027-03-02T0{hour}:00/0{hour}:30" for hour in (4, 5, 6, 7)]


def test_periods_are_rounded_outward_and_merged() -> None:
    """10:01-10:59 keeps 10:00-11:00; what touches or overlaps becomes one; nothing has no length,
    and no length takes no time.
    """
    found = said(
        entry("DTSTART:20270302T100100Z", "DTEND:20270302T105900Z"),
        entry("DTSTART:20270302T110000Z", "DTEND:20270302T120000Z"),
        entry("DTSTART:20270302T113000Z", "DTEND:20270302T114000Z"),
        entry("DTSTART:20270303T101300Z"),
        entry("DTSTART:20270303T111300Z", "DTEND:20270303T111300Z"),
        entry("DTSTART:20270304T101300Z", "DURATION:PT0S", "RRULE:FREQ=DAILY;COUNT=3"),
    )
    assert found == ["2027-03-02T10:00/12:00"]


def test_the_window_cuts() -> None:
    """What began before is kept from the window's beginning, what lasts beyond ends with it, and
    what is outside is not there.
    """
    found = said(
        entry("DTSTART:20270220T100000Z", "DTEND:20270301T093000Z"),
        entry("DTSTART:20260220T100000Z", "DTEND:20260301T093000Z"),
        entry("DTSTART:20270301T110000Z", "DTEND:20290301T093000Z"),
        entry("DTSTART:20290301T110000Z", "DTEND:20290301T123000Z"),
        entry("DTSTART:20270101T000000Z", "DURATION:P8W", "RRULE:FREQ=YEARLY;COUNT=1"),
        until=NOW + timedelta(hours=6),
    )
    assert found == ["2027-03-01T09:00/09:30", "2027-03-01T11:00/15:00"]


def test_whole_days_are_the_owners() -> None:
    """A date is the owner's local day: 23 hours where the clocks go forward, and one day where no
    end is given.
    """
    found = said(
        entry("DTSTART;VALUE=DATE:20270314"),
        entry("DTSTART;VALUE=DATE:20270316", "DTEND;VALUE=DATE:20270318"),
        entry(
            "DTSTART;VALUE=DATE:20270320", "RRULE:FREQ=WEEKLY;COUNT=2", "EXDATE;VALUE=DATE:20270327"
        ),
        zone="America/New_York",
    )
    assert found == [
        "2027-03-14T05:00/2027-03-15T04:00",
        "2027-03-16T04:00/2027-03-18T04:00",
        "2027-03-20T04:00/2027-03-21T04:00",
    ]


def test_floating_times_are_on_the_owners_clock() -> None:
    """A time without a zone, single or repeated, its UNTIL and its EXDATE, are read on the clock of
    whoever brings the file.
    """
    lines = ["DTSTART:20270302T100000", "DTEND:20270302T110000"]
    assert said(entry(*lines), zone="Asia/Kathmandu") == ["2027-03-02T04:15/05:15"]
    repeated = entry(*lines, "RRULE:FREQ=DAILY;UNTIL=20270304T100000", "EXDATE:20270303T100000")
    assert said(repeated, zone="Asia/Kathmandu") == [
        "2027-03-02T04:15/05:15",
        "2027-03-04T04:15/05:15",
    ]


def test_an_until_that_is_a_date_lets_that_date_in() -> None:
    """Beside a start that is a time; 10:00 of the last date is still busy."""
    found = said(
        entry(
            "DTSTART;TZID=Europe/Dublin:20270302T100000",
            "DURATION:PT1H",
            "RRULE:FREQ=DAILY;UNTIL=20270303",
        )
    )
    assert found == ["2027-03-02T10:00/11:00", "2027-03-03T10:00/11:00"]


def test_a_length_is_exact_by_its_end_and_nominal_by_days() -> None:
    """RFC 5545 3.8.5.3: over the change of clocks a night of 11 hours stays 11 hours, and P1D ends
    at the same wall time.
    """
    night = [
        "DTSTART;TZID=America/New_York:20270312T200000",
        "DTEND;TZID=America/New_York:20270313T070000",
    ]
    assert said(entry(*night, "RRULE:FREQ=DAILY;COUNT=2")) == [
        "2027-03-13T01:00/12:00",
        "2027-03-14T01:00/12:00",
    ]
    day = ["DTSTART;TZID=America/New_York:20270313T200000", "DURATION:P1D"]
    for more in ([], ["RRULE:FREQ=YEARLY;COUNT=1"]):
        assert said(entry(*day, *more)) == ["2027-03-14T01:00/2027-03-15T00:00"]


def test_gap_and_fold_as_the_standard_reads_them() -> None:
    """RFC 5545 3.3.5: a time in a gap by the offset before it, a repeated time is the first (03:30
    EDT; 01:30 EDT).
    """
    for more in ([], ["RRULE:FREQ=YEARLY;COUNT=1"]):
        gap = entry("DTSTART;TZID=America/New_York:20270314T023000", "DURATION:PT30M", *more)
        fold = entry("DTSTART;TZID=America/New_York:20271107T013000", "DURATION:PT30M", *more)
        assert said(gap, fold) == ["2027-03-14T07:30/08:00", "2027-11-07T05:30/06:00"]
