"""The statement of hours: which meetings have a line, which count, and how lines are corrected."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain import statements
from bookings.domain.errors import Refused
from bookings.domain.statement_corrections import counter_lines, standing_lines
from bookings.domain.statement_rules import check_period, check_registers
from bookings.domain.statements import MeetingFacts, MeetingOutcome, PlaceFacts, outcome_of, reckon
from bookings.domain.vocabulary import Attendance, Ended, Kind, Standing
from tests.cast import at

HELD, ENDED = Standing.HELD, Standing.ENDED


def meeting(*places, number=1, kind=Kind.PRIVATE_LESSON, minutes=50, is_cancelled=False):
    """A meeting on day `number` of February 2027 in Dublin."""
    return MeetingFacts(
        meeting_id=number,
        starts_at=at("2027-02-01T16:00Z") + timedelta(days=number - 1),
        wall_on=date(2027, 2, 1) + timedelta(days=number - 1),
        time_zone="Europe/Dublin",
        kind=kind,
        minutes=minutes,
        is_cancelled=is_cancelled,
        places=places,
    )


def marked(attendance):
    return PlaceFacts(HELD, attendance=attendance)


def ended(why):
    return PlaceFacts(ENDED, ended_why=why)


@pytest.mark.parametrize(
    ("attendance", "outcome", "counts"),
    [
        (Attendance.PRESENT, MeetingOutcome.TAUGHT, True),
        (Attendance.LATE, MeetingOutcome.TAUGHT, True),
        (Attendance.ABSENT_WITHOUT_NOTICE, MeetingOutcome.MISSED, True),
        (Attendance.ABSENT_WITH_NOTICE, MeetingOutcome.MISSED_WITH_NOTICE, False),
        (Attendance.INSTRUCTOR_ABSENT, MeetingOutcome.INSTRUCTOR_ABSENT, False),
        (None, MeetingOutcome.REGISTER_OPEN, False),
    ],
)
def test_the_register_decides_whether_a_lesson_counts(attendance, outcome, counts):
    """Source: TRADE.md 1.10, a music school's pay sheet [S88]: hours taught, with absences and
    make-ups; what is missed with notice is owed (1.8) and counts as the make-up. That time kept for
    a student who does not come counts is common practice.
    """
    (line,) = reckon([meeting(marked(attendance))])
    assert (line.outcome, line.counts) == (outcome, counts)
    assert line.counted_minutes == (50 if counts else 0)


def test_only_booked_minutes_count():
    """Source: TRADE.md 1.10 [S88]: only booked minutes are paid, however long the lesson ran."""
    lines = reckon(meeting(marked(Attendance.LATE), number=n, minutes=30) for n in (1, 2, 3))
    assert [line.counted_minutes for line in lines] == [30, 30, 30]
    assert statements.running_totals(lines) == [30, 60, 90]


@pytest.mark.parametrize(
    ("why", "outcome"),
    [
        (Ended.CANCELLED_LATE, MeetingOutcome.CANCELLED_LATE),
        (Ended.CALLED_OFF, MeetingOutcome.CALLED_OFF),
        (Ended.CANCELLED_IN_TIME, None),
        (Ended.DECLINED, None),
        (Ended.REMOVED, None),
        (Ended.LEFT, None),
    ],
)
def test_a_lesson_that_did_not_take_place_has_the_line_that_its_end_gives_it(why, outcome):
    """Cancelled late counts; called off has a line that never counts; given back in time, or taken
    away free of charge, it was no booked time any more.

    Source: TRADE.md 1.8 (notice, teacher cancels) and 1.10 [S88].
    """
    lines = reckon([meeting(ended(why), is_cancelled=True)])
    assert [line.outcome for line in lines] == ([outcome] if outcome else [])
    assert statements.total_of(lines) == (50 if outcome is MeetingOutcome.CANCELLED_LATE else 0)


def test_a_group_is_one_line_however_many_were_there():
    """One player came, one did not, and a third had cancelled late: 60 minutes, once."""
    group = meeting(
        marked(Attendance.PRESENT),
        marked(Attendance.ABSENT_WITHOUT_NOTICE),
        ended(Ended.CANCELLED_LATE),
        kind=Kind.GROUP_MEETING,
        minutes=60,
    )
    (line,) = reckon([group])
    assert (line.outcome, line.counted_minutes) == (MeetingOutcome.TAUGHT, 60)


def test_a_group_called_off_never_counts_whoever_had_cancelled_late():
    """The school's own act ends it for all."""
    group = meeting(ended(Ended.CANCELLED_LATE), kind=Kind.MASTERCLASS, is_cancelled=True)
    assert outcome_of(group) is MeetingOutcome.CALLED_OFF


def test_a_group_without_anybody_in_it_has_a_line_that_does_not_count():
    """Nobody had booked, so that there are no booked minutes; with a late cancellation there are.

    Source: TRADE.md 1.10 [S88], booked minutes only.
    """
    empty = meeting(kind=Kind.GROUP_MEETING)
    late = meeting(ended(Ended.CANCELLED_LATE), kind=Kind.GROUP_MEETING)
    assert outcome_of(empty) is MeetingOutcome.NOBODY_BOOKED
    assert outcome_of(late) is MeetingOutcome.CANCELLED_LATE


def test_one_open_place_leaves_the_register_of_a_group_open():
    """A group is marked once everybody in it is."""
    group = meeting(marked(Attendance.PRESENT), marked(None), kind=Kind.GROUP_MEETING)
    lines = reckon([group])
    with pytest.raises(Refused) as caught:
        check_registers(lines)
    assert caught.value.code == "register-open"
    assert caught.value.data["meetings"] == [{"id": 1, "starts_at": "2027-02-01T16:00:00Z"}]


def test_a_lesson_marked_anew_is_corrected_by_two_lines():
    """The old line negated, then the new one; the other line stays as it is.

    Source: TRADE.md 1.10: locked after issue, corrected by a counter-line.
    """
    written = reckon(
        [meeting(marked(Attendance.PRESENT)), meeting(marked(Attendance.LATE), number=2)]
    )
    now = reckon(
        [meeting(marked(Attendance.INSTRUCTOR_ABSENT)), meeting(marked(Attendance.LATE), number=2)]
    )
    found = counter_lines(written, now)
    assert [(line.meeting_id, line.is_counter, line.counted_minutes) for line in found] == [
        (1, True, -50),
        (1, False, 0),
    ]
    assert found[0].outcome is MeetingOutcome.TAUGHT
    assert statements.total_of([*written, *found]) == statements.total_of(now) == 50
    assert counter_lines([*written, *found], now) == []


MARKS = st.none() | st.sampled_from(list(Attendance))
PLACES = st.builds(marked, MARKS) | st.builds(ended, st.sampled_from(list(Ended)))


@st.composite
def months(draw):
    """Up to four meetings of a month, as they stand at one time."""
    numbers = draw(st.sets(st.integers(1, 4)))
    return [
        meeting(
            *draw(st.lists(PLACES, max_size=3)),
            number=number,
            kind=draw(st.sampled_from(list(Kind))),
            is_cancelled=draw(st.booleans()),
        )
        for number in sorted(numbers)
    ]


@given(st.lists(months(), min_size=1, max_size=4))
def test_a_statement_says_what_counts_after_each_correction(stages):
    """Whatever changes between corrections, the sum over all lines is what counts now, and a
    meeting has one standing line or none.
    """
    written = []
    for stage in stages:
        written += counter_lines(written, reckon(stage))
        assert statements.total_of(written) == statements.total_of(reckon(stage))
        now = {line.meeting_id: line for line in reckon(stage)}
        assert standing_lines(written) == now


TODAY = date(2027, 3, 1)


@pytest.mark.parametrize(
    ("first_on", "last_on", "code"),
    [
        (date(2027, 2, 28), date(2027, 2, 1), "end-before-start"),
        (date(2027, 2, 1), TODAY, "not-yet"),
        (date(2027, 2, 1), date(2027, 3, 31), "not-yet"),
        (date(2026, 1, 1), date(2027, 2, 28), "invalid"),
    ],
)
def test_a_period_is_over_in_order_and_a_year_at_most(first_on, last_on, code):
    """A statement of days that are not over would lock what has not happened yet."""
    with pytest.raises(Refused) as caught:
        check_period(first_on, last_on, TODAY)
    assert caught.value.code == code


def test_a_month_that_is_over_may_be_stated():
    """Yesterday may be its last day."""
    check_period(date(2027, 2, 1), date(2027, 2, 28), TODAY)
