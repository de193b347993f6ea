"""Texts that tell of an erased person in rows that stay, or that belong to others."""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any

from django.apps import apps
from django.db.models import Q, QuerySet

from accounts.models import AddressChange, User, Welcome
from bookings.domain.addresses import in_ascii
from bookings.domain.vocabulary import OwedCause
from bookings.models import (
    ONE_ON_ONE,
    AuditReason,
    Booking,
    EmailTrouble,
    KeptAnswer,
    Meeting,
    OutboxMessage,
    OwedLesson,
    PeopleFile,
    WaitingPlace,
    WeeklyPlace,
)

ERASED = "(erased)"
"""Stands where a reason has to be, but may no longer be told."""
_TOLD_IN = ("title", "body", "calendar")
State = OutboxMessage.State


@dataclass(frozen=True, slots=True)
class Traces:
    """By what a person is known in texts: the student's id and first name, whole names and
    addresses of all who go with them, and the ids of their accounts.
    """

    student: int
    first_name: str
    names: list[str]
    addresses: list[str]
    accounts: list[int]

    @property
    def words(self) -> list[str]:
        """What names them beyond doubt."""
        return [*self.names, *self.addresses]


def addresses_of(
    student: int, accounts: Sequence[User], names: Collection[str], *, now: datetime
) -> list[str]:
    """Every email address by which these accounts were known: those of today, earlier ones, new
    ones that wait, and those to which they were invited, mistyped ones too.

    An address that is another account's by now is theirs.
    """
    ids = [user.pk for user in accounts]
    told = OutboxMessage.objects.filter(recipient__in=ids).exclude(to_address="").order_by()
    asked = AddressChange.objects.filter(user__in=ids).order_by()
    invited = _invitations_of(student, names, now).order_by()
    found = {
        *(user.email for user in accounts),
        *told.values_list("to_address", flat=True),
        *asked.values_list("email", flat=True),
        *invited.values_list("email", flat=True),
    }
    others = User.objects.filter(email__in=found).exclude(pk__in=ids)
    return sorted(found - set(others.values_list("email", flat=True)))


def _invitations_of(student: int, names: Collection[str], now: datetime) -> QuerySet[Welcome]:
    """Invitations of the student to an account, and those that are over of anybody of these names:
    an open one may be a namesake's.
    """
    is_over = Q(used_at__isnull=False) | Q(good_until__lte=now)
    return Welcome.objects.filter(Q(student=student) | (Q(name__in=names) & is_over))


def erase_texts(traces: Traces, *, now: datetime) -> None:
    """Erases emails, stored answers, invitations and reasons that tell of this person."""
    _erase_reasons(traces)  # first: it looks for the student's rows
    _erase_words_of_meetings(traces)
    erase_emails_to(traces.accounts)
    _erase_emails_about(traces)
    sent_there = OutboxMessage.objects.filter(to_address__in=map(in_ascii, traces.addresses))
    _empty(sent_there.values_list("pk", flat=True), also=["to_address"])
    _invitations_of(traces.student, traces.names, now).delete()
    invited = Q(guardian_of=traces.student) | Q(email__in=traces.addresses)
    Welcome.objects.filter(invited).delete()
    EmailTrouble.objects.filter(address__in=map(in_ascii, traces.addresses)).delete()
    told = Q(user__in=traces.accounts) | _holding(["body", "path"], traces.words)
    KeptAnswer.objects.filter(told).delete()
    PeopleFile.objects.all().delete()  # each waits for an hour only, and may name the person
    entries = apps.get_model("admin", "LogEntry").objects.all()
    entries.filter(user__in=traces.accounts).update(object_repr="")
    entries.filter(_holding(["object_repr"], traces.words)).update(object_repr="")


def erase_emails_to(accounts: Collection[int]) -> None:
    """Empties every email to these accounts; none that waits will leave."""
    rows = OutboxMessage.objects.filter(recipient__in=accounts)
    _empty(rows.values_list("pk", flat=True), also=["to_address"])


def _erase_emails_about(traces: Traces) -> None:
    """Empties emails to others that name the person.

    An instructor knows a minor by the first name only. Others may have it too, so that name alone
    empties an email only about a meeting of this student, or one that has left.
    """
    mine = Booking.objects.filter(student=traces.student).order_by().values("meeting")
    alone = Q(meeting__in=mine, meeting__offering__kind__in=ONE_ON_ONE)
    rows = OutboxMessage.objects.order_by()
    certain = rows.filter(alone | _holding(_TOLD_IN, traces.words))
    maybe = rows.filter(Q(meeting__in=mine) | ~Q(state=State.DUE))
    _empty(certain.values_list("pk", flat=True))
    _empty(_naming(maybe, _TOLD_IN, traces.first_name))


def _naming(rows: QuerySet[Any], columns: Sequence[str], name: str) -> list[int]:
    """The ids of rows in which one of the columns holds this name as a whole word."""
    word = re.compile(rf"\b{re.escape(name)}\b", re.IGNORECASE)
    found = rows.filter(_holding(columns, [name])).values_list("pk", *columns)
    return [pk for pk, *texts in found if any(word.search(text) for text in texts)]


def _empty(ids: Iterable[int], also: Sequence[str] = ()) -> None:
    found = OutboxMessage.objects.filter(pk__in=list(ids))
    waiting = found.filter(state__in=[State.DUE, State.GIVEN_UP])
    waiting.update(state=State.SUPERSEDED, leased_until=None)
    found.update(**dict.fromkeys((*_TOLD_IN, *also), ""))


def _erase_words_of_meetings(traces: Traces) -> None:
    """What was said when a lesson was called off or owed, and the lesson's room."""
    mine = Booking.objects.filter(student=traces.student).order_by().values("meeting")
    Meeting.objects.filter(pk__in=mine, offering__kind__in=ONE_ON_ONE).update(
        called_off_why="", join_address=""
    )
    others = Meeting.objects.filter(pk__in=mine)
    named = _naming(others, ["called_off_why"], traces.first_name)
    Meeting.objects.filter(pk__in=named).update(called_off_why="")
    owed = OwedLesson.objects.filter(student=traces.student).exclude(reason="")
    owed.exclude(cause=OwedCause.CARRIED_IN).update(reason="")
    owed.filter(cause=OwedCause.CARRIED_IN).update(reason=ERASED)


def _erase_reasons(traces: Traces) -> None:
    """Admins' own sentences about the person's rows, and those that name them."""
    student = traces.student
    rows: dict[str, Iterable[int]] = {
        "student": [student],
        "user": traces.accounts,
        "booking": _ids(Booking, student),
        "waitingplace": _ids(WaitingPlace, student),
        "weeklyplace": _ids(WeeklyPlace, student),
        "owedlesson": _ids(OwedLesson, student),
        "privacyrequest": _ids(apps.get_model("bookings", "PrivacyRequest"), student),
        "guardianship": _ids(apps.get_model("accounts", "Guardianship"), student),
    }
    about = reduce(or_, (Q(row__thing=thing, row__thing_id__in=ids) for thing, ids in rows.items()))
    AuditReason.objects.filter(about | _holding(["text"], traces.words)).delete()


def _ids(model: type, student: int) -> list[int]:
    rows = model._default_manager.filter(student=student).order_by()  # type: ignore[attr-defined]
    return list(rows.values_list("pk", flat=True))


def _holding(columns: Iterable[str], words: Iterable[str]) -> Q:
    """Rows in which one of these columns holds one of these words; none without a word."""
    found = [Q(**{f"{column}__icontains": word}) for column in columns for word in words if word]
    return reduce(or_, found, Q(pk__in=[]))
