"""What the tables promise each other, read row by row against the guards: counters, times, queues, offers.

Each rule is one query over the whole table, so that the number of queries does not depend on the number of rows. A single
statement sees one state of the database, so the audit may run while bookings are made. It writes nothing.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, cast

from django.apps import apps
from django.db import connection
from django.db.models import (
    BooleanField,
    CheckConstraint,
    Count,
    Exists,
    ExpressionWrapper,
    F,
    Max,
    Min,
    Model,
    OuterRef,
    Q,
    QuerySet,
    RowRange,
    Subquery,
    UniqueConstraint,
    Window,
)
from django.db.models.functions import Length

from bookings.domain.vocabulary import Kind, MeetingStatus, PlaceKind, Standing
from bookings.models import LIVE, Booking, Feed, Meeting, WaitingPlace, guards

LONGEST = timedelta(days=2)
"""Nothing lasts that long (an offering has 8 hours at most), so that whatever overlaps a start began less than this before it."""
_SHA256_DIGITS = 64


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it must be: the rule it breaks, the row, and a plain sentence without anybody's name."""

    rule: str
    thing: str
    id: int | None
    sentence: str

    def line(self) -> str:
        """As one line of text."""
        return f"{self.thing}{'' if self.id is None else f' {self.id}'}: {self.sentence}"


def findings() -> Iterator[Finding]:
    """Everything that is wrong, rule by rule; nothing where all is well."""
    for rule in _RULES:
        yield from rule()


def _guards_in_place() -> Iterator[Finding]:
    missing = [("", name) for name in guards.missing(connection)]
    with connection.cursor() as cursor:
        for model in _models():
            there = connection.introspection.get_constraints(cursor, model._meta.db_table)
            missing += [
                (model._meta.db_table, str(one.name))
                for one in model._meta.constraints
                if one.name not in there
            ]
    for table, name in missing:
        yield Finding("guard-missing", table or "database", None, f"the guard {name} is missing.")


def _rows_keep_the_checks() -> Iterator[Finding]:
    for model in _models():
        for check in model._meta.constraints:
            if isinstance(check, CheckConstraint):
                # As a condition of its own, so that unknown counts as kept, which is how a database reads a CHECK.
                kept = ExpressionWrapper(cast(Q, check.condition), output_field=BooleanField())
                for pk in (
                    model._default_manager.annotate(_kept=kept)
                    .filter(_kept=False)
                    .order_by("pk")
                    .values_list("pk", flat=True)
                ):
                    yield Finding(check.name, _word(model), pk, f"breaks {check.name}.")


def _rows_keep_the_uniques() -> Iterator[Finding]:
    for model in _models():
        for unique in model._meta.constraints:
            if isinstance(unique, UniqueConstraint):
                parts: dict[str, Any] = {
                    f"_part{i}": part
                    for i, part in enumerate(unique.expressions or map(F, unique.fields))
                }
                rows = (
                    model._default_manager.annotate(**parts)
                    .filter(unique.condition or Q())
                    .exclude(_any_null(parts))
                    .order_by()
                )
                for twice in (
                    rows.values(*parts)
                    .annotate(rows=Count("pk"), first=Min("pk"))
                    .filter(rows__gt=1)
                ):
                    yield Finding(
                        unique.name,
                        _word(model),
                        twice["first"],
                        f"is there {twice['rows']} times, against {unique.name}.",
                    )


def _counters_agree() -> Iterator[Finding]:
    live = Q(bookings__standing__in=LIVE)
    counted = Meeting.objects.order_by("pk").values("pk", "taken", "listeners_taken")
    counted = counted.annotate(
        players=Count("bookings", filter=live & Q(bookings__place_kind=PlaceKind.PLAYER)),
        listeners=Count("bookings", filter=live & Q(bookings__place_kind=PlaceKind.LISTENER)),
    )
    for row in counted.exclude(taken=F("players"), listeners_taken=F("listeners")):
        told = f"counts {row['taken']} players and {row['listeners_taken']} listeners, and has {row['players']} and {row['listeners']}."
        yield Finding("counters", "meeting", row["pk"], told)


def _instructors_are_free() -> Iterator[Finding]:
    live = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(is_flagged=False)
    for pk, other in _overlaps(live, "instructor", "held_until", Q()):
        yield Finding(
            "meeting_instructor_free",
            "meeting",
            pk,
            f"begins before meeting {other} of the same instructor is over and the changeover.",
        )


def _students_are_free() -> Iterator[Finding]:
    held = Booking.objects.filter(standing=Standing.HELD)
    for pk, other in _overlaps(held, "student", "ends_at", ~Q(meeting=OuterRef("meeting"))):
        yield Finding(
            "booking_student_free",
            "booking",
            pk,
            f"begins before booking {other} of the same student is over.",
        )


def _overlaps(rows: QuerySet[Any], whose: str, ends: str, more: Q) -> Iterator[tuple[int, int]]:
    """(row, another that began before it or with it and is not over): each pair once.

    One walk in order of time, with the latest end so far, names the few rows that can overlap, and only for those is the other one
    looked for. Looking for every row would take a minute and more for a million.
    """
    so_far = Window(
        Max(ends), partition_by=[whose], order_by=["starts_at", "pk"], frame=RowRange(end=-1)
    )
    late = rows.annotate(_so_far=so_far).filter(_so_far__gt=F("starts_at")).order_by().values("pk")
    began = Q(starts_at__lt=OuterRef("starts_at")) | Q(
        starts_at=OuterRef("starts_at"), pk__lt=OuterRef("pk")
    )
    near = Q(
        starts_at__gt=OuterRef("starts_at") - LONGEST,
        **{whose: OuterRef(whose), f"{ends}__gt": OuterRef("starts_at")},
    )
    other = Subquery(rows.filter(began, near, more).order_by("starts_at", "pk").values("pk")[:1])
    for pk, found in (
        rows.filter(pk__in=late).annotate(_other=other).order_by("pk").values_list("pk", "_other")
    ):
        if found is not None:
            yield pk, found


def _times_are_believable() -> Iterator[Finding]:
    for pk in (
        Meeting.objects.filter(held_until__gt=F("starts_at") + LONGEST)
        .order_by("pk")
        .values_list("pk", flat=True)
    ):
        yield Finding("too-long", "meeting", pk, "lasts longer than two days.")
    copies = Booking.objects.filter(standing__in=LIVE).exclude(
        starts_at=F("meeting__starts_at"), ends_at=F("meeting__ends_at")
    )
    for pk, meeting in copies.order_by("pk").values_list("pk", "meeting_id"):
        yield Finding("period", "booking", pk, f"has another time than its meeting {meeting}.")


def _nothing_lives_in_what_is_over() -> Iterator[Finding]:
    called_off = Q(meeting__status=MeetingStatus.CANCELLED)
    for pk, meeting in (
        Booking.objects.filter(called_off, standing__in=LIVE)
        .order_by("pk")
        .values_list("pk", "meeting_id")
    ):
        yield Finding(
            "cancelled", "booking", pk, f"stands in meeting {meeting}, which is cancelled."
        )
    for pk, meeting in (
        WaitingPlace.objects.filter(called_off, ended_at__isnull=True)
        .order_by("pk")
        .values_list("pk", "meeting_id")
    ):
        yield Finding(
            "cancelled", "waiting place", pk, f"waits for meeting {meeting}, which is cancelled."
        )
    one_on_one = Q(offering__kind__in=[kind.value for kind in Kind if kind.is_one_on_one])
    empty = Meeting.objects.filter(one_on_one, taken=0).exclude(status=MeetingStatus.CANCELLED)
    for pk in empty.order_by("pk").values_list("pk", flat=True):
        yield Finding(
            "empty",
            "meeting",
            pk,
            "is a one-on-one without a student and still takes the instructor's time.",
        )


def _offers_and_queues_agree() -> Iterator[Finding]:
    offers = Booking.objects.filter(standing=Standing.OFFERED).order_by("pk")
    for pk in offers.filter(answer_by__gt=F("starts_at")).values_list("pk", flat=True):
        yield Finding(
            "offer", "booking", pk, "is an offer that may be answered after its meeting has begun."
        )
    same = Q(
        waiting_place__meeting=F("meeting"),
        waiting_place__student=F("student"),
        waiting_place__place_kind=F("place_kind"),
    )
    its_own = offers.filter(same, waiting_place__ended_at__isnull=True)
    for pk in (
        offers.filter(waiting_place__isnull=False)
        .exclude(pk__in=its_own.values("pk"))
        .values_list("pk", flat=True)
    ):
        yield Finding(
            "offer",
            "booking",
            pk,
            "is an offer to a waiting place that has ended or is another student's, meeting's or kind's.",
        )
    hers = Booking.objects.filter(
        meeting=OuterRef("meeting"), student=OuterRef("student"), place_kind=OuterRef("place_kind")
    )
    for pk in WaitingPlace.objects.filter(
        Exists(hers.filter(standing=Standing.HELD)), ended_at__isnull=True
    ).values_list("pk", flat=True):
        yield Finding(
            "queue", "waiting place", pk, "still waits for a place that its student holds."
        )
    for pk in (
        WaitingPlace.objects.filter(joined_at__gt=F("meeting__starts_at"))
        .order_by("pk")
        .values_list("pk", flat=True)
    ):
        yield Finding(
            "queue",
            "waiting place",
            pk,
            "joined after the meeting had begun, so its rank is not to be trusted.",
        )


def _feeds_can_open() -> Iterator[Finding]:
    odd = Feed.objects.annotate(_digits=Length("secret_digest")).exclude(_digits=_SHA256_DIGITS)
    for pk in odd.order_by("pk").values_list("pk", flat=True):
        yield Finding("feed", "feed", pk, "has a digest that no secret opens.")
    for pk in (
        Feed.objects.filter(revoked_at__lt=F("opened_at"))
        .order_by("pk")
        .values_list("pk", flat=True)
    ):
        yield Finding("feed", "feed", pk, "was revoked before it was opened.")


def _models() -> list[type[Model]]:
    return [
        model for app in ("accounts", "bookings") for model in apps.get_app_config(app).get_models()
    ]


def _word(model: type[Model]) -> str:
    return str(model._meta.verbose_name)


def _any_null(names: Iterable[str]) -> Q:
    """A row with a null in it is alike to no other (SQL's UNIQUE)."""
    nulls = Q()
    for name in names:
        nulls |= Q(**{f"{name}__isnull": True})
    return nulls


_RULES: tuple[Callable[[], Iterator[Finding]], ...] = (
    _guards_in_place,
    _rows_keep_the_checks,
    _rows_keep_the_uniques,
    _counters_agree,
    _instructors_are_free,
    _students_are_free,
    _times_are_believable,
    _nothing_lives_in_what_is_over,
    _offers_and_queues_agree,
    _feeds_can_open,
)
