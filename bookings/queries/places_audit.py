"""Audit of meetings, bookings, queues, feeds and statements, row by row: counters, times, offers.

Each rule is a query or two over a whole table, so the number of queries does not depend on the
number of rows. One statement sees one state of the database, so the audit may run while people
book. It writes nothing.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

from django.db.models import (
    Count,
    Exists,
    F,
    Max,
    OuterRef,
    Q,
    QuerySet,
    RowRange,
    Subquery,
    Window,
)
from django.db.models.functions import Length

from bookings.domain.vocabulary import MeetingStatus, PlaceKind
from bookings.models import (
    LIVE,
    Booking,
    Feed,
    Mark,
    Meeting,
    ProposedTimes,
    RegisterEntry,
    WaitingPlace,
)
from bookings.queries import owed_audit, statements_audit
from bookings.queries.audit_findings import Finding
from bookings.queries.constraints_audit import (
    guards_in_place,
    rows_keep_the_checks,
    rows_keep_the_uniques,
)

LONGEST = timedelta(days=2)
"""Longer than any meeting (an offering has 8 hours at most): earlier meetings cannot overlap."""
_SHA256_DIGITS = 64


def findings() -> Iterator[Finding]:
    """Every row that breaks a rule, rule by rule."""
    for rule in _RULES:
        yield from rule()


def _ids(rows: QuerySet[Any]) -> QuerySet[Any, int]:
    return rows.order_by("pk").values_list("pk", flat=True)


def _counters_agree() -> Iterator[Finding]:
    live = Q(bookings__standing__in=LIVE)
    counted = Meeting.objects.order_by("pk").values("pk", "taken", "listeners_taken")
    counted = counted.annotate(
        players=Count("bookings", filter=live & Q(bookings__place_kind=PlaceKind.PLAYER)),
        listeners=Count("bookings", filter=live & Q(bookings__place_kind=PlaceKind.LISTENER)),
    )
    for row in counted.exclude(taken=F("players"), listeners_taken=F("listeners")):
        told = (
            f"counts {row['taken']} players and {row['listeners_taken']} listeners, and has "
            f"{row['players']} and {row['listeners']}."
        )
        yield Finding("counters", "meeting", row["pk"], told)


def _instructors_are_free() -> Iterator[Finding]:
    live = Meeting.objects.holding_time().filter(is_flagged=False)
    for pk, other in _overlaps(live, "instructor", "held_until", Q()):
        yield Finding(
            "meeting_instructor_free",
            "meeting",
            pk,
            f"begins before meeting {other} of the same instructor is over and the changeover.",
        )


def _students_are_free() -> Iterator[Finding]:
    held = Booking.objects.held()
    for pk, other in _overlaps(held, "student", "ends_at", ~Q(meeting=OuterRef("meeting"))):
        yield Finding(
            "booking_student_free",
            "booking",
            pk,
            f"begins before booking {other} of the same student is over.",
        )


def _overlaps(rows: QuerySet[Any], person: str, ends: str, more: Q) -> Iterator[tuple[int, int]]:
    """(row, another of the same person that began before it and has not ended): each pair once.

    One walk in order of time, with the latest end so far, finds the few rows that can overlap, and
    the other row is looked up only for those. For every row it would take a minute or more for a
    million.
    """
    so_far = Window(
        Max(ends), partition_by=[person], order_by=["starts_at", "pk"], frame=RowRange(end=-1)
    )
    late = rows.annotate(_so_far=so_far).filter(_so_far__gt=F("starts_at")).order_by().values("pk")
    began = Q(starts_at__lt=OuterRef("starts_at")) | Q(
        starts_at=OuterRef("starts_at"), pk__lt=OuterRef("pk")
    )
    near = Q(
        starts_at__gt=OuterRef("starts_at") - LONGEST,
        **{person: OuterRef(person), f"{ends}__gt": OuterRef("starts_at")},
    )
    other = Subquery(rows.filter(began, near, more).order_by("starts_at", "pk").values("pk")[:1])
    found = rows.filter(pk__in=late).annotate(_other=other).order_by("pk")
    for pk, other_pk in found.values_list("pk", "_other"):
        if other_pk is not None:
            yield pk, other_pk


def _times_are_believable() -> Iterator[Finding]:
    for pk in _ids(Meeting.objects.filter(held_until__gt=F("starts_at") + LONGEST)):
        yield Finding("too-long", "meeting", pk, "lasts longer than two days.")
    copies = Booking.objects.filter(standing__in=LIVE).exclude(
        starts_at=F("meeting__starts_at"), ends_at=F("meeting__ends_at")
    )
    for pk, meeting in copies.order_by("pk").values_list("pk", "meeting_id"):
        yield Finding("period", "booking", pk, f"has another time than its meeting {meeting}.")


def _nothing_lives_in_a_cancelled_meeting() -> Iterator[Finding]:
    called_off = Q(meeting__status=MeetingStatus.CANCELLED)
    bookings = Booking.objects.filter(called_off, standing__in=LIVE).order_by("pk")
    for pk, meeting in bookings.values_list("pk", "meeting_id"):
        told = f"stands in meeting {meeting}, which is cancelled."
        yield Finding("cancelled", "booking", pk, told)
    waiting = WaitingPlace.objects.waiting().filter(called_off).order_by("pk")
    for pk, meeting in waiting.values_list("pk", "meeting_id"):
        told = f"waits for meeting {meeting}, which is cancelled."
        yield Finding("cancelled", "waiting place", pk, told)


def _one_on_ones_have_a_student() -> Iterator[Finding]:
    empty = Meeting.objects.holding_time().one_on_one().filter(taken=0)
    told = "is a one-on-one without a student and still takes the instructor's time."
    for pk in _ids(empty):
        yield Finding("empty", "meeting", pk, told)


def _offers_can_be_answered() -> Iterator[Finding]:
    offers = Booking.objects.offered()
    told = "is an offer that may be answered after its meeting has begun."
    for pk in _ids(offers.filter(answer_by__gt=F("starts_at"))):
        yield Finding("offer", "booking", pk, told)
    own_place = Q(
        waiting_place__meeting=F("meeting"),
        waiting_place__student=F("student"),
        waiting_place__place_kind=F("place_kind"),
    )
    fitting = offers.filter(own_place, waiting_place__ended_at__isnull=True)
    told = (
        "is an offer to a waiting place that has ended or is another student's, meeting's or "
        "kind's."
    )
    from_list = offers.filter(waiting_place__isnull=False)
    for pk in _ids(from_list.exclude(pk__in=fitting.values("pk"))):
        yield Finding("offer", "booking", pk, told)


def _proposals_agree() -> Iterator[Finding]:
    fitting = Q(
        proposed__ended_at__isnull=True,
        proposed__student=F("student"),
        proposed__answer_by=F("answer_by"),
        meeting__status=MeetingStatus.TENTATIVE,
    )
    open_times = Booking.objects.proposed()
    told = "is a proposed time whose proposal or meeting is not as it should be."
    for pk in _ids(open_times.exclude(pk__in=open_times.filter(fitting).order_by().values("pk"))):
        yield Finding("proposal", "booking", pk, told)
    tentative = Meeting.objects.filter(status=MeetingStatus.TENTATIVE, is_proposed=True)
    for pk in _ids(tentative.exclude(pk__in=open_times.order_by().values("meeting"))):
        told = "is held for a proposal that is not open."
        yield Finding("proposal", "meeting", pk, told)
    taken = Booking.objects.held().filter(meeting__is_proposed=True)
    for pk in _ids(taken):
        yield Finding("proposal", "booking", pk, "is held in a meeting that is only proposed.")
    unheld = ProposedTimes.objects.unanswered().exclude(
        pk__in=open_times.order_by().values("proposed")
    )
    for pk in _ids(unheld):
        yield Finding("proposal", "proposed times", pk, "wait for an answer and hold no time.")


def _queues_agree() -> Iterator[Finding]:
    held = Booking.objects.held().filter(
        meeting=OuterRef("meeting"),
        student=OuterRef("student"),
        place_kind=OuterRef("place_kind"),
    )
    for pk in _ids(WaitingPlace.objects.waiting().filter(Exists(held))):
        told = "still waits for a place that its student holds."
        yield Finding("queue", "waiting place", pk, told)
    for pk in _ids(WaitingPlace.objects.filter(joined_at__gt=F("meeting__starts_at"))):
        told = "joined after the meeting had begun, so its rank is not to be trusted."
        yield Finding("queue", "waiting place", pk, told)


def _register_agrees() -> Iterator[Finding]:
    entries = RegisterEntry.objects.filter(booking=OuterRef("booking")).order_by("-pk")
    last = Subquery(entries.values("attendance")[:1])
    told = "is marked otherwise than its last entry in the register says."
    entered = Mark.objects.annotate(last=last)
    for pk in entered.exclude(attendance=F("last")).order_by("booking").values_list("booking"):
        yield Finding("register", "booking", pk[0], told)


def _feeds_can_open() -> Iterator[Finding]:
    rows = Feed.objects.annotate(_digits=Length("secret_digest"))
    for pk in _ids(rows.exclude(_digits=_SHA256_DIGITS)):
        yield Finding("feed", "feed", pk, "has a digest that no secret opens.")
    for pk in _ids(Feed.objects.filter(revoked_at__lt=F("opened_at"))):
        yield Finding("feed", "feed", pk, "was revoked before it was opened.")


_RULES: tuple[Callable[[], Iterator[Finding]], ...] = (
    guards_in_place,
    rows_keep_the_checks,
    rows_keep_the_uniques,
    _counters_agree,
    _instructors_are_free,
    _students_are_free,
    _times_are_believable,
    _nothing_lives_in_a_cancelled_meeting,
    _one_on_ones_have_a_student,
    _offers_can_be_answered,
    _proposals_agree,
    _queues_agree,
    _register_agrees,
    _feeds_can_open,
    owed_audit.promises_are_kept,
    owed_audit.owed_lessons_agree,
    statements_audit.statements_add_up,
    statements_audit.counter_lines_take_back,
    statements_audit.days_are_stated_once,
)
