"""The strip of a day's teaching, and the days it lies in."""

from datetime import date, datetime, timedelta

from bookings.domain.local_days import day_period
from bookings.domain.timeline import Period
from bookings.pages.day_strip import fitting, hours_of, rests_of, stretch_of
from bookings.pages.ribbon import Band

DUBLIN = "Europe/Dublin"


def period(starts_at: str, ends_at: str) -> Period:
    return Period(datetime.fromisoformat(starts_at), datetime.fromisoformat(ends_at))


def test_the_strip_begins_and_ends_at_full_hours_around_the_meetings() -> None:
    """From the hour before the first meeting to the hour after the last."""
    day = day_period(date(2027, 3, 8), DUBLIN)
    meetings = [
        period("2027-03-08T15:30Z", "2027-03-08T15:55Z"),
        period("2027-03-08T20:00Z", "2027-03-08T20:25Z"),
    ]
    stretch = stretch_of(day, meetings, DUBLIN)
    assert stretch is not None
    assert stretch.period == period("2027-03-08T15:00Z", "2027-03-08T21:00Z")
    assert [mark.label for mark in hours_of(stretch, DUBLIN)] == [
        "15",
        "16",
        "17",
        "18",
        "19",
        "20",
    ]


def test_a_meeting_across_midnight_lies_in_both_days() -> None:
    """Each day shows its own part, and the strip never leaves the day."""
    late = period("2027-03-08T23:30Z", "2027-03-09T00:30Z")
    for on, shown in (
        (date(2027, 3, 8), period("2027-03-08T23:00Z", "2027-03-09T00:00Z")),
        (date(2027, 3, 9), period("2027-03-09T00:00Z", "2027-03-09T01:00Z")),
    ):
        stretch = stretch_of(day_period(on, DUBLIN), [late], DUBLIN)
        assert stretch is not None
        assert stretch.period == shown
        assert stretch.band(late) is not None


def test_days_of_23_and_25_hours_name_each_hour_as_the_clock_does() -> None:
    """Dublin: 28 March 2027 skips 01:00, and 31 October 2027 shows it twice."""
    for on, hours, labels in (
        (date(2027, 3, 28), 23, ["00", "02", "03"]),
        (date(2027, 10, 31), 25, ["00", "01", "01", "02", "03"]),
    ):
        day = day_period(on, DUBLIN)
        assert day.ends_at - day.starts_at == timedelta(hours=hours)
        length = timedelta(hours=len(labels))
        stretch = stretch_of(day, [Period(day.starts_at, day.starts_at + length)], DUBLIN)
        assert stretch is not None
        assert [mark.label for mark in hours_of(stretch, DUBLIN)][: len(labels)] == labels


def test_rests_are_named_and_changeovers_are_not() -> None:
    """Five minutes between two lessons are no rest."""
    day = day_period(date(2027, 3, 8), DUBLIN)
    meetings = [
        period("2027-03-08T15:30Z", "2027-03-08T15:55Z"),
        period("2027-03-08T16:00Z", "2027-03-08T16:25Z"),
        period("2027-03-08T16:45Z", "2027-03-08T17:10Z"),
        period("2027-03-08T18:40Z", "2027-03-08T19:00Z"),
    ]
    stretch = stretch_of(day, meetings, DUBLIN)
    assert stretch is not None
    assert [mark.label for mark in rests_of(stretch, meetings)] == ["rest 20", "rest 1:30"]


def test_a_name_that_does_not_fit_becomes_its_first_letter() -> None:
    """A block of a twentieth of the strip holds six letters."""
    assert fitting("Imogen", Band("0%", "5.00%")) == "Imogen"
    assert fitting("Theodora", Band("0%", "5.00%")) == "T"


def test_a_day_without_meetings_and_hours_has_no_strip() -> None:
    """There is nothing to draw."""
    assert stretch_of(day_period(date(2027, 3, 8), DUBLIN), [], DUBLIN) is None
