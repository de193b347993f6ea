"""What the tables say in the end, in the ledgers' words. Needs Django."""

from collections.abc import Iterable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, OuterRef, Q

from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.models import LIVE, Booking, Meeting, OutboxMessage, SentSequence, WaitingPlace
from bookings.outbox.sending import ATTEMPTS
from tests.races.faults.ledgers import Fault, Final, Intended, Row

REFUSED_FOR_GOOD = ("SMTP 550 5.7.1", "SMTP 554 5.7.1")
NOBODY_THERE = "SMTP 550 5.1.1"


def rows(students: Iterable[int]) -> dict[int, Row]:
    """Every booking of these students, by its id."""
    found = Booking.objects.filter(student__in=list(students))
    return {
        row.pk: Row(
            row.student_id, row.starts_at.astimezone(UTC).isoformat(), row.standing, row.version
        )
        for row in found
    }


def waiting(students: Iterable[int]) -> list[int]:
    return list(
        WaitingPlace.objects.filter(student__in=list(students)).values_list("pk", flat=True)
    )


def broken_rules() -> list[Fault]:
    """Overlaps, and counters that differ from the rows or from the places there are."""
    faults = []
    for what, owner, held in (
        (
            "instructor",
            "instructor_id",
            Meeting.objects.exclude(status=MeetingStatus.CANCELLED).values_list(
                "instructor_id", "starts_at", "held_until"
            ),
        ),
        (
            "student",
            "student_id",
            Booking.objects.filter(standing=Standing.HELD).values_list(
                "student_id", "starts_at", "ends_at"
            ),
        ),
    ):
        last: tuple[int, datetime] | None = None
        for pk, starts_at, until in held.order_by(owner, "starts_at"):
            if last is not None and last[0] == pk and starts_at < last[1]:
                faults.append(Fault("overlap", f"{what} {pk} is in two meetings at {starts_at}"))
            last = (pk, max(until, last[1]) if last is not None and last[0] == pk else until)
    for meeting in Meeting.objects.exclude(status=MeetingStatus.CANCELLED):
        live = Booking.objects.filter(
            meeting=meeting, standing__in=LIVE, place_kind="player"
        ).count()
        if meeting.taken != live or live > meeting.places:
            faults.append(
                Fault(
                    "over-places",
                    (
                        f"meeting {meeting.pk}: {meeting.taken} counted, {live} rows, "
                        f"{meeting.places} places"
                    ),
                )
            )
    return faults


def intended(now: datetime) -> list[Intended]:
    """Every row of the outbox whose time has come."""
    due = OutboxMessage.objects.filter(
        Q(due_at__lte=now) | ~Q(state=OutboxMessage.State.DUE)
    ).order_by("pk")
    return [
        Intended(
            row.message_id,
            row.to_address,
            f"{row.kind} {row.subject_key} {row.state_key}",
            row.state,
        )
        for row in due
    ]


def finals() -> dict[tuple[str, str], Final]:
    """What the calendar of each person who was to get an invitation must show of its meeting."""
    invited = OutboxMessage.objects.filter(meeting__isnull=False).exclude(method="")
    sequences = {
        (row.meeting_id, row.recipient_id): row.sequence for row in SentSequence.objects.all()
    }
    found = {}
    for row in invited.select_related("meeting__instructor", "recipient"):
        meeting = row.meeting
        assert meeting is not None
        held = Booking.objects.filter(meeting=meeting, standing=Standing.HELD)
        in_it = (
            meeting.instructor.user_id == row.recipient_id
            or held.filter(
                Q(student__user=row.recipient_id) | Q(student__guardians=row.recipient_id)
            ).exists()
        )
        stays = in_it and meeting.status != MeetingStatus.CANCELLED
        wall, utc = (
            meeting.starts_at.astimezone(ZoneInfo(str(meeting.time_zone))),
            "Z" if str(meeting.time_zone) == "UTC" else "",
        )
        method, start = ("REQUEST", f"{wall:%Y%m%dT%H%M%S}{utc}") if stays else ("CANCEL", "")
        found[row.to_address, str(meeting.uid)] = Final(
            method, start, sequences[meeting.pk, row.recipient_id]
        )
    return found


def unsent(now: datetime) -> OutboxMessage | None:
    """A message that should have left by then or has been tried, if there is one."""
    waits = OutboxMessage.objects.filter(state=OutboxMessage.State.DUE).filter(
        Q(due_at__lte=now) | Q(attempts__gt=0)
    )
    return waits.order_by(F("leased_until").asc(nulls_first=True), "due_at").first()


def ready(now: datetime) -> bool:
    """Whether a message could be claimed: due, free, and none before it to the same person about
    the same thing is leased.
    """
    due = OutboxMessage.objects.filter(state=OutboxMessage.State.DUE, due_at__lte=now).filter(
        Q(leased_until=None) | Q(leased_until__lte=now)
    )
    leased = OutboxMessage.objects.filter(
        leased_until__gt=now, recipient=OuterRef("recipient"), subject_key=OuterRef("subject_key")
    )
    return due.exclude(Exists(leased)).exists()


def wrongly_given_up(
    given_up: Iterable[OutboxMessage], held: Iterable[OutboxMessage], expected: OutboxMessage
) -> list[Fault]:
    """Only what a server refused for good is given up, with its code and before its attempts run
    out. What it refused because nobody is there is held, as `expected` is, and nothing else.
    """
    wrong = {
        row
        for row in given_up
        if row.last_error not in REFUSED_FOR_GOOD or row.attempts >= ATTEMPTS
    }
    held = list(held)
    wrong |= {row for row in held if row.to_address != expected.to_address}
    if expected not in held or expected.last_error != NOBODY_THERE:
        wrong.add(expected)
    return [
        Fault(
            "mail-lost",
            f"{row.message_id}: {row.state}, {row.attempts} attempts, {row.last_error!r}",
        )
        for row in wrong
    ]
