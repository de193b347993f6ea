"""What must hold whatever happened, read from the rows alone, without the model."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import combinations, groupby
from typing import Any

from bookings.domain.vocabulary import NoteState, Standing
from bookings.models import (
    LIVE,
    Assessment,
    Booking,
    Meeting,
    OutboxMessage,
    ProposedTimes,
    WaitingPlace,
)
from tests.races.desk.rows import KINDS, LISTENER, PLAYER
from tests.races.desk.turns import is_anybodys
from tests.races.simulation.acts import Acts
from tests.races.simulation.family_invariants import is_past, readers_of
from tests.races.simulation.post import Post

AT_ONCE = ("invitation", "cancellation", "told", "place-free", "offer")
"""Kinds that are due when they are made, so that they arrive in the order in which they were made.
"""


def check_rows() -> None:
    """No overlap, no over-booking, every end with its when and why."""
    meetings = list(Meeting.objects.exclude(status="CANCELLED").order_by("instructor", "starts_at"))
    bookings = list(Booking.objects.select_related("meeting").order_by("student", "starts_at"))
    _check_instructors(meetings)
    _check_students(bookings)
    _check_counts(bookings)
    _check_proposed(bookings)
    for booking in bookings:
        _check_booking(booking)
    for wait in WaitingPlace.objects.all():
        assert (wait.ended_at is not None) == (wait.ended_why != ""), f"waiting place {wait.pk}"


def _check_instructors(meetings: Sequence[Meeting]) -> None:
    """Nobody teaches two meetings at once; `meetings` by instructor."""
    for teacher, theirs in groupby(meetings, key=lambda m: m.instructor_id):
        for one, next_one in combinations(list(theirs), 2):
            assert one.held_until <= next_one.starts_at, (
                f"instructor {teacher} is in {one.pk} and {next_one.pk} at once"
            )


def _check_students(bookings: Sequence[Booking]) -> None:
    """Nobody is held in two meetings at once; `bookings` by student."""
    held = [booking for booking in bookings if booking.standing == Standing.HELD]
    for student, theirs in groupby(held, key=lambda b: b.student_id):
        for first, then in combinations(list(theirs), 2):
            apart = first.ends_at <= then.starts_at
            assert apart or first.meeting_id == then.meeting_id, (
                f"student {student} is held in {first.pk} and {then.pk} at once"
            )


def _check_counts(bookings: Sequence[Booking]) -> None:
    """A meeting's counters are the numbers of its rows, and within its places."""
    live = Counter((b.meeting_id, b.place_kind) for b in bookings if b.standing in LIVE)
    for meeting in Meeting.objects.all():
        counted = {
            PLAYER: (meeting.taken, meeting.places),
            LISTENER: (meeting.listeners_taken, meeting.listener_places),
        }
        for kind, (taken, places) in counted.items():
            assert taken == live[meeting.pk, kind] <= places, (
                f"meeting {meeting.pk} counts {taken} of {places}, rows {live[meeting.pk, kind]}"
            )


def _check_booking(booking: Booking) -> None:
    """An ended booking says when and why; a live one is at its meeting's time."""
    ended = booking.standing == Standing.ENDED
    told = f"booking {booking.pk}"
    assert ended == (booking.ended_at is not None) == (booking.ended_why != ""), told
    if not ended:
        meeting = booking.meeting
        times = (booking.starts_at, booking.ends_at)
        assert times == (meeting.starts_at, meeting.ends_at), told
        assert meeting.status != "CANCELLED", f"{told} in a meeting that is off"


def _check_proposed(bookings: Sequence[Booking]) -> None:
    """Open times hold their hour for one open proposal, and at most three are open to a student."""
    open_ones = [b for b in bookings if b.proposed_id is not None and b.standing == "OFFERED"]
    for student, count in Counter(b.student_id for b in open_ones).items():
        assert count <= 3, f"{count} times are open to student {student}"
    for booking in open_ones:
        meeting = booking.meeting
        assert (meeting.status, meeting.is_proposed) == ("TENTATIVE", True), f"booking {booking.pk}"
    held = {booking.proposed_id for booking in open_ones}
    asked = set(ProposedTimes.objects.filter(ended_at=None).values_list("pk", flat=True))
    assert held == asked, f"proposals {held} hold times, {asked} are open"


def check_proposal_emails() -> None:
    """Emails about proposed times have no calendar part, and each reader gets one of a state."""
    rows = OutboxMessage.objects.filter(subject_key__startswith="proposed-times:")
    assert not rows.exclude(method="").exists(), "a proposed time has a calendar part"
    told = Counter(rows.values_list("subject_key", "state_key", "recipient"))
    doubled = [key for key, count in told.items() if count > 1]
    assert not doubled, f"told twice: {doubled}"


def check_notes(acts: Acts) -> None:
    """A booking ahead carries the student's latest released assessment."""
    latest: dict[int, int] = {}
    for note in Assessment.objects.filter(state=NoteState.RELEASED).order_by("released_at", "pk"):
        latest[note.student_id] = note.pk
    for booking in Booking.objects.filter(standing=Standing.HELD, starts_at__gt=acts.now):
        assert booking.assessment_id == latest.get(booking.student_id), (
            f"booking {booking.pk} carries an old assessment"
        )


def check_line(acts: Acts) -> None:
    """After the periodic task: no free place is kept from everybody while somebody waits to whom it
    can be offered.
    """
    desk, setting = acts.desk.rows, acts.desk.at(acts.now)
    for meeting in acts.desk.meetings:
        for kind in KINDS:
            if meeting.off or meeting.starts_at <= acts.now or desk.full(meeting, kind):
                continue
            line = desk.line(meeting.id, kind)
            asked = [wait for wait in line if setting.may_take(meeting, wait.student)]
            assert not asked or is_anybodys(desk, setting, meeting, kind), (
                f"a {kind} place of meeting {meeting.id} is free, and {asked[0]} is not asked"
            )


def check_post(post: Post, *, drained: bool, acts: Acts) -> None:
    """The ledger: nothing invented, nothing twice under two names, nothing overtaken; once drained,
    the last word is the truth.
    """
    rows = {row.message_id: row for row in OutboxMessage.objects.select_related("recipient")}
    assert len(rows) == OutboxMessage.objects.count(), "two messages have one Message-ID"
    names: dict[Any, set[str]] = defaultdict(set)
    newest: dict[Any, int] = {}
    order: dict[Any, list[int]] = defaultdict(list)
    states: dict[Any, list[int]] = defaultdict(list)
    for row in rows.values():
        if row.method:
            states[row.recipient_id, row.subject_key].append(row.pk)
    seen: set[str] = set()
    last: dict[tuple[str, str], Any] = {}
    for mail in post.arrived:
        assert mail.message_id in rows, f"{mail.message_id} was sent and is in no table"
        row = rows[mail.message_id]
        if mail.uid:
            newer = [
                pk for pk in states[row.recipient_id, row.subject_key] if row.pk < pk <= mail.newest
            ]
            assert not newer, f"{mail.message_id} was sent although {newer} had superseded it"
            names[mail.to, mail.uid, mail.sequence].add(mail.message_id)
            assert mail.sequence >= newest.get((mail.to, mail.uid), -1), (
                f"SEQUENCE goes down for {mail.to}: {mail.message_id}"
            )
            newest[mail.to, mail.uid] = mail.sequence
            last[mail.to, mail.uid] = mail
        if row.kind in AT_ONCE and mail.message_id not in seen:
            before = order[mail.to, row.subject_key]
            assert not before or before[-1] < row.pk, f"{mail.message_id} was overtaken"
            before.append(row.pk)
        seen.add(mail.message_id)
    doubled = {state: ids for state, ids in names.items() if len(ids) > 1}
    assert not doubled, f"one state under two Message-IDs: {doubled}"
    if drained:
        _check_truth(last, rows, seen, acts)


def _check_truth(
    last: dict[tuple[str, str], Any], rows: dict[str, OutboxMessage], seen: set[str], acts: Acts
) -> None:
    readers: dict[int, set[str]] = defaultdict(set)
    for booking in Booking.objects.filter(standing=Standing.HELD).select_related("student__user"):
        readers[booking.meeting_id] |= readers_of(acts, booking.student)
    for row in rows.values():
        assert row.state != "given-up", f"{row} was given up"
        assert row.state == "due" or row.state == "superseded" or row.message_id in seen, (
            f"{row} says sent and never arrived"
        )
    for meeting in Meeting.objects.select_related("instructor__user"):
        agreed = not (meeting.is_cancelled or meeting.is_proposed)
        stands = readers[meeting.pk] | {meeting.instructor.user.email} if agreed else set()
        told = {to: mail for (to, uid), mail in last.items() if uid == str(meeting.uid)}
        for to in stands | set(told):
            mail = told.get(to)
            if to not in stands and is_past(acts, to, meeting):
                continue
            if to not in stands:
                assert mail.method == "CANCEL", (
                    f"{to} still has meeting {meeting.pk} in the calendar: {mail}"
                )
            elif mail is None:
                assert meeting.weekly_place_id is not None, (
                    f"{to} was never sent meeting {meeting.pk}"
                )
            else:
                wall = f"{meeting.wall_on:%Y%m%d}T{meeting.wall_at:%H%M%S}"
                assert (mail.method, mail.starts) == ("REQUEST", wall), (
                    f"{to} has meeting {meeting.pk} otherwise than it stands: {mail}"
                )
