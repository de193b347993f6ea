"""Weekly places: take one for a term, leave it, move it. A place gets all its lessons or none."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, Offering, Term, WeeklyPlace
from bookings.operations.consents import require_consent
from bookings.operations.locks import lock_meetings, lock_students, lock_teachers
from bookings.operations.versions import check_version
from bookings.operations.weekly_lessons import give_up_place, take_place
from bookings.queries.weekly_moves import next_place
from bookings.queries.weekly_places import open_places


def take_weekly_place(
    *,
    actor: User,
    student: Student,
    instructor: Instructor,
    offering: Offering,
    term: Term,
    weekday: int,
    wall_at: int,
    without: Iterable[date] = (),
    now: datetime,
) -> WeeklyPlace:
    """Books a lesson on this weekday (0 = Monday) on each date of the term that lies ahead.

    `wall_at` is the minute of the day in the instructor's zone. `without` are dates that the family
    gives up; breaks and days away are left out. Refused("term-dates") with `dates` where any other
    date is not available: then nothing is booked.
    """
    locked = lock_teachers([instructor.pk], [student])[instructor.pk]
    locked_student = lock_students([student.pk])[student.pk]
    require_consent(locked_student, now=now)
    place = WeeklyPlace(
        term=term,
        student=locked_student,
        instructor=locked,
        offering=offering,
        weekday=weekday,
        wall_at=wall_at,
    )
    taken = take_place(place, without, actor=actor, now=now)
    outbox.enqueue(notices.weekly_changed(taken=[taken], now=now), now=now)
    return place


def leave_weekly_place(
    *,
    actor: User,
    place: WeeklyPlace,
    version: int | None = None,
    said: str = "",
    now: datetime,
) -> WeeklyPlace:
    """Gives the place up and ends its lessons ahead.

    A lesson whose cancellation deadline has passed, by the policy under which it was booked, is
    kept and named to the family. `said` is a sentence for those who are told.
    """
    bookings = lock_places([place], now)
    current = _current(place, version)
    left = give_up_place(current, bookings, why=Ended.LEFT, actor=actor, now=now)
    outbox.enqueue(notices.weekly_changed(left=[left], said=said, now=now), now=now)
    return current


def move_weekly_place(
    *,
    actor: User,
    place: WeeklyPlace,
    weekday: int,
    wall_at: int,
    next_wall_at: int | None = None,
    without: Iterable[date] = (),
    version: int | None = None,
    now: datetime,
) -> list[WeeklyPlace]:
    """Gives the place up and takes another for the rest of the term, in one step and one email.

    `next_wall_at` is a minute of the same weekday; it also moves the sibling's place that follows
    this one. Refused("conflict") where none follows any more. A week that has had its lesson, or
    keeps it because its deadline has passed, gets no other.
    """
    wall_times = {place: wall_at}
    if next_wall_at is not None:
        wall_times[_next_place(place, actor, now)] = next_wall_at
    bookings = lock_places(list(wall_times), now)
    olds = {_current(old, version if old is place else None): wall_times[old] for old in wall_times}
    left = [give_up_place(old, bookings, why=Ended.MOVED, actor=actor, now=now) for old in olds]
    taken = _take_instead(left, olds, weekday, set(without), actor=actor, now=now)
    outbox.enqueue(notices.weekly_changed(left=left, taken=taken, now=now), now=now)
    return [change.place for change in taken]


def _next_place(place: WeeklyPlace, actor: User, now: datetime) -> WeeklyPlace:
    found = next_place(place, actor, now=now)
    if found is None:
        raise Refused(
            "conflict",
            "No sibling's place follows this one any more. Look at the options again.",
            field="next_wall_at",
        )
    return found


def _take_instead(
    left: Sequence[notices.Left],
    wall_times: Mapping[WeeklyPlace, int],
    weekday: int,
    without: set[date],
    *,
    actor: User,
    now: datetime,
) -> list[notices.Taken]:
    """Takes a place with the same instructor, each at its new wall time, for every place left."""
    taken = []
    for one in left:
        old = one.place
        require_consent(old.student, now=now)
        new = WeeklyPlace(
            term=old.term,
            student=old.student,
            instructor=old.instructor,
            offering=old.offering,
            weekday=weekday,
            wall_at=wall_times[old],
        )
        taken.append(take_place(new, without | weeks_with_a_lesson(one), actor=actor, now=now))
    return taken


def weeks_with_a_lesson(left: notices.Left) -> set[date]:
    """Every day of the weeks in which the old place has a lesson that it still promises, and none
    was ended.

    One that was cancelled or called off is owed or forfeited: another would be promised twice.
    """
    promised = Booking.objects.filter(meeting__weekly_place=left.place)
    promised = promised.exclude(ended_why__in=[Ended.LEFT, Ended.MOVED])
    kept = _weeks_of(promised.values_list("meeting__wall_on", flat=True))
    return kept - _weeks_of(booking.meeting.wall_on for booking in left.ended)


def _weeks_of(dates: Iterable[date]) -> set[date]:
    """Monday to Sunday around each date."""
    return {on + timedelta(days=day - on.weekday()) for on in dates for day in range(7)}


def lock_places(
    places: Sequence[WeeklyPlace],
    now: datetime,
    *,
    teachers: Iterable[int] = (),
    students: Iterable[Student] = (),
) -> list[Booking]:
    """The held bookings ahead of these places, by start, with everything locked in lock order:
    also the `teachers`, by id, and `students` to whom other places are given.

    A lesson that was moved may have another instructor than its place.
    """
    ahead = Booking.objects.held().ahead(now).filter(meeting__weekly_place__in=places)
    found = list(ahead.values_list("meeting_id", "meeting__instructor_id"))
    concerned = [*(place.student for place in places), *students]
    lock_teachers(
        [
            *teachers,
            *(place.instructor_id for place in places),
            *(instructor_id for _, instructor_id in found),
        ],
        concerned,
    )
    meetings = lock_meetings([meeting_id for meeting_id, _ in found])
    lock_students([student.pk for student in concerned])
    bookings = list(ahead.in_meetings(meetings).with_student().order_by("starts_at"))
    for booking in bookings:
        booking.meeting = meetings[booking.meeting_id]
    return bookings


def _current(place: WeeklyPlace, version: int | None) -> WeeklyPlace:
    """The place as it stands under the locks."""
    current = open_places(WeeklyPlace.objects.filter(pk=place.pk)).first()
    if current is None:
        raise Refused("already-ended", "This weekly place has already been given up.")
    check_version(current, version)
    return current
