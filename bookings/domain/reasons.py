"""The rules against a start, in one order for explaining and for booking."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from bookings.domain.errors import Refused
from bookings.domain.load import bars
from bookings.domain.load_bars import Bar
from bookings.domain.openings import is_off_grid
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy, check_horizon, check_lead, check_minor, is_minor
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period, rfc3339
from bookings.domain.vocabulary import Grid
from bookings.domain.wall import seconds, spoken
from bookings.domain.zones import zone

Number = int | str
NOT_FREE = "not free"
HOURS = "teaching hours"
STUDENT_BUSY = "the student's busy time"


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule against a start: its name, its refusal, and a sentence with numbers.

    A private reason tells of the instructor's other meetings. Only the instructor and admins read
    its `sentence` and `numbers`; see `for_student`. Numbers are minutes, days, and instants as RFC
    3339 text.
    """

    rule: str
    refusal: Refused
    sentence: str
    numbers: Mapping[str, Number] = field(default_factory=dict)
    is_private: bool = False

    @property
    def code(self) -> str:
        """The refusal's code."""
        return self.refusal.code


def reasons_against(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> Iterator[Reason]:
    """Every rule against a start, in the order of `check_start`; `starts_at` is in UTC."""
    if (starts_at - EPOCH) % CELL:
        off_cells = Refused("off-grid", "Choose a start on whole 5 minutes.")
        yield reason_of("start times", off_cells, step_minutes=5)
        return
    yield from _of_policy(starts_at, student.time_zone, policy, now)
    yield from _of_hours(starts_at, offering, instructor, policy)
    yield from of_instructor(starts_at, offering, instructor, policy)
    yield from _of_student(starts_at, offering, student, policy)


def _of_policy(
    starts_at: datetime, time_zone: str, policy: Policy, now: datetime
) -> Iterator[Reason]:
    soon = _refusal(check_lead, starts_at, now, policy, time_zone)
    if soon is not None:
        yield reason_of("lead time", soon, lead_time_minutes=policy.lead_time_minutes)
    far = _refusal(check_horizon, starts_at, now, policy, time_zone)
    if far is not None:
        yield reason_of("horizon", far, horizon_days=policy.horizon_days)


def _of_hours(
    starts_at: datetime, offering: OfferingRules, instructor: InstructorTime, policy: Policy
) -> Iterator[Reason]:
    yield from outside_hours(starts_at, offering, instructor)
    if is_off_grid(starts_at, offering, instructor, policy):
        refusal = Refused("off-grid", _grid_in_words(offering))
        yield reason_of("start times", refusal, step_minutes=offering.step_minutes)


def outside_hours(
    starts_at: datetime, offering: OfferingRules, instructor: InstructorTime
) -> Iterator[Reason]:
    """The reason against a start that does not lie in teaching hours, or lies on a day away."""
    held, cells = _cells(starts_at, offering)
    if cells & ~instructor.teachable(held):
        words = (
            f"The instructor does not teach for {offering.minutes} minutes from then: choose one "
            "of the times offered."
        )
        yield reason_of(HOURS, Refused("outside-hours", words), minutes=offering.minutes)


def of_instructor(
    starts_at: datetime, offering: OfferingRules, instructor: InstructorTime, policy: Policy
) -> Iterator[Reason]:
    """What the instructor's meetings, busy times and load say against a start."""
    held, cells = _cells(starts_at, offering)
    clashing = [other for other in instructor.meetings if held.mask_outward(other)]
    for other in clashing:
        yield _taken("meeting", other, instructor)
    for other in instructor.busy:
        if cells & held.mask_outward(other):
            yield _taken("busy time", other, instructor)
    if not clashing and starts_at not in instructor.allowed:
        yield from _load(seconds(starts_at), offering.minutes, instructor, policy, held)


def _of_student(
    starts_at: datetime, offering: OfferingRules, student: StudentTime, policy: Policy
) -> Iterator[Reason]:
    held, cells = _cells(starts_at, offering)
    for other in student.meetings:
        if cells & held.mask_outward(other):
            words = (
                "The student already has a lesson or meeting at that time: choose another time, "
                "or move that one first."
            )
            yield reason_of("the student's meetings", Refused("own-clash", words), **_ends(other))
    for other in student.busy:
        if cells & held.mask_outward(other):
            # An admin may read the refusal, so it names no time. The sentence and the numbers are
            # for the family.
            refusal = Refused("own-clash", "The student is not free then: choose another time.")
            words = "The student's own calendar says that they are busy then: choose another time."
            yield Reason(STUDENT_BUSY, refusal, words, _ends(other))
    if is_minor(student.adult_on, starts_at.astimezone(zone(student.time_zone)).date()):
        meeting = Period(starts_at, starts_at + offering.meeting_cells * CELL)
        late = _refusal(check_minor, meeting, student.time_zone, policy)
        if late is not None:
            opens, closes = policy.minor_opens, policy.minor_closes
            yield reason_of("a minor's hours", late, opens=opens, closes=closes)


def _cells(starts_at: datetime, offering: OfferingRules) -> tuple[Horizon, int]:
    """The horizon of the meeting and its changeover, and the cells of the meeting in it."""
    held = Horizon(starts_at, offering.held_cells)
    return held, held.between(0, offering.meeting_cells)


def _refusal(check: Callable[..., None], *arguments: object) -> Refused | None:
    """The refusal that the check raises with these arguments, if any."""
    try:
        check(*arguments)
    except Refused as refusal:
        return refusal
    return None


def _load(
    start: int, minutes: int, instructor: InstructorTime, policy: Policy, held: Horizon
) -> Iterator[Reason]:
    """One reason for each broken load rule, with the numbers of the bar that the meeting would
    exceed most.
    """
    length = minutes * 60
    worst: dict[str, Bar] = {}
    for bar in bars(instructor.taught, instructor.time_zone, minutes, policy, held):
        if bar.since <= start < bar.until:
            beyond = abs(bar.would_be(start, length) - bar.limit)
            known = worst.get(bar.code)
            if known is None or beyond > abs(known.would_be(start, length) - bar.limit):
                worst[bar.code] = bar
    for code, (rule, words) in _LOAD_RULES.items():
        if code not in worst:
            continue
        bar = worst[code]
        taught, would_be = -(-bar.taught // 60), bar.would_be(start, length)
        yield Reason(
            rule,
            Refused(code, taken_refusal().detail),
            words.format(taught=taught, would_be=would_be, limit=bar.limit),
            {
                "limit_minutes": bar.limit,
                "taught_minutes": taught,
                "would_be_minutes": would_be,
            },
            is_private=True,
        )


_LOAD_RULES = {
    "load-run": (
        "run",
        "{taught} minutes in a row would become {would_be}: at most {limit} are taught before a "
        "rest.",
    ),
    "load-day": (
        "day",
        "{taught} minutes on that day would become {would_be}: at most {limit} are taught.",
    ),
    "load-week": (
        "week",
        "{taught} minutes in that week would become {would_be}: at most {limit} are taught.",
    ),
    "load-rest": (
        "night rest",
        "The rest between two days would be {would_be} minutes: at least {limit} are kept.",
    ),
}


def _taken(kind: str, other: Period, instructor: InstructorTime) -> Reason:
    begins = spoken(other.starts_at, instructor.time_zone)
    ends = spoken(other.ends_at, instructor.time_zone)
    words = f"A {kind} is in the way: it begins at {begins} and keeps the instructor until {ends}."
    return Reason(NOT_FREE, taken_refusal(), words, {"kind": kind, **_ends(other)}, is_private=True)


def taken_refusal() -> Refused:
    """The refusal of a taken time; it tells nothing of what takes it."""
    return Refused("taken", "That time is not free: choose another time.")


def reason_of(rule: str, refusal: Refused, **numbers: Number) -> Reason:
    """A reason whose sentence is that of its refusal."""
    return Reason(rule, refusal, refusal.detail, {**numbers, **refusal.data})


def _ends(period: Period) -> dict[str, Number]:
    return {"starts_at": rfc3339(period.starts_at), "ends_at": rfc3339(period.ends_at)}


def _grid_in_words(rules: OfferingRules) -> str:
    if rules.grid is Grid.CLOCK:
        return (
            f"Starts fall every {rules.step_minutes} minutes of the instructor's clock, counted "
            "from midnight: choose one of them."
        )
    if rules.grid is Grid.PACKED:
        return (
            "Starts follow one another from the start of the teaching hours, from a booked lesson "
            "or from a rest: choose one of the times offered."
        )
    return (
        f"Starts follow every {rules.step_minutes} minutes from the start of the teaching hours: "
        "choose one of them."
    )
