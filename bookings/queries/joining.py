"""What the rules of joining need to know: of one student, and of group meetings."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import F, Value

from accounts.models import Student
from bookings.domain.joining import Joinable, Joiner, Place
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking, Meeting
from bookings.queries.consents import has_consent
from bookings.queries.held_time import REACH
from bookings.queries.policies import policy_in_force


def joiner_of(student: Student, meetings: Sequence[Meeting], *, now: datetime) -> Joiner:
    """One student against all of these meetings: one query for an adult, three for a minor."""
    is_minor_once = student.adult_on is not None
    return Joiner(
        id=student.pk,
        first_name=student.first_name,
        level=student.level,
        time_zone=student.zone,
        adult_on=student.adult_on,
        is_here=student.is_active,
        has_consent=has_consent(student, now=now),
        places=_places(student, meetings),
        policy=policy_in_force(now).rules() if is_minor_once else None,
    )


def joinable(meetings: Sequence[Meeting]) -> dict[int, Joinable]:
    """These meetings by id, as the rules of joining see them; no query."""
    return {
        row.pk: Joinable(
            id=row.pk,
            instructor=str(row.instructor),
            period=Period(row.starts_at, row.ends_at),
            is_one_on_one=row.offering.is_one_on_one,
            is_cancelled=row.is_cancelled,
            players=row.places,
            listeners=row.listener_places,
            levels=(row.lowest_level, row.highest_level),
            players_are_chosen=row.players_are_chosen,
            choice_is_closed=row.choice_closed_at is not None,
        )
        for row in meetings
    }


def _places(student: Student, meetings: Sequence[Meeting]) -> tuple[Place, ...]:
    """The live places of the student while these meetings last, and what the student teaches."""
    if not meetings:
        return ()
    since = min(row.starts_at for row in meetings)
    window = {"starts_at__lt": max(row.ends_at for row in meetings)}
    window |= {"starts_at__gt": since - REACH}
    rows = (
        Booking.objects.of(student)
        .live()
        .filter(**window)
        .order_by()
        .values_list(
            "meeting_id", "place_kind", "standing", "starts_at", "ends_at", "pk", "answer_by"
        )
    )
    if student.user_id is not None:
        live = Meeting.objects.holding_time()
        taught = live.filter(instructor__user=student.user_id, **window).order_by()
        nothing = Value(""), Value(Standing.HELD.value)
        rows = rows.union(
            taught.values_list("pk", *nothing, "starts_at", "held_until", Value(0), F("starts_at")),
            all=True,
        )
    return tuple(
        Place(
            meeting,
            PlaceKind(kind) if kind else None,
            Standing(standing),
            Period(starts_at, ends_at),
            pk,
            answer_by,
        )
        for meeting, kind, standing, starts_at, ends_at, pk, answer_by in rows
    )
