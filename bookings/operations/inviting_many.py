"""Many people invited at once, by the rules of one invitation: one link and one email to each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from accounts.models import Student, User, Welcome
from bookings import notices, outbox
from bookings.domain.names import name_key
from bookings.operations.audit import record_all
from bookings.operations.invitations import seal, void


@dataclass(frozen=True, slots=True)
class Invited:
    """One person to invite: the address, the name, and every role that they are to have."""

    email: str
    name: str
    as_instructor: bool = False
    student: Student | None = None
    guardian_of: Sequence[Student] = field(default=())


def invite_together(*, actor: User, people: Iterable[Invited], now: datetime) -> list[Welcome]:
    """Sends each person one link that gives all their roles, in a fixed number of statements for
    each thousand.

    As with `invite`, an open invitation of the same name to the same role is void: it may have gone
    to a wrong address. The caller has judged what `invite` refuses, and knows that no open
    invitation to the same address says the same.
    """
    invitations = []
    rows: list[Welcome] = []
    invited = list(people)
    _void_older(invited, now)
    for person in invited:
        roles = _roles(person)
        invitations.append((roles[0], seal(*roles, now=now)))
        rows += roles
    Welcome.objects.bulk_create(rows)
    record_all(actor=actor, verb="invited", things=rows, now=now)
    messages = [
        message
        for welcome, secret in invitations
        for message in notices.welcome_email(welcome, secret=secret, inviter=actor, now=now)
    ]
    outbox.enqueue(messages, now=now)
    return rows


def _void_older(people: Sequence[Invited], now: datetime) -> None:
    """Ends open invitations of these names as an instructor, or as a guardian of these students."""
    meant: set[tuple[str, int | None]] = {
        (name_key(person.name), None) for person in people if person.as_instructor
    }
    meant |= {
        (name_key(person.name), child.pk) for person in people for child in person.guardian_of
    }
    usable = Welcome.objects.usable(now).filter(as_admin=False, student__isnull=True)
    older = [
        pk
        for pk, name, child in usable.order_by("pk").values_list("pk", "name", "guardian_of")
        if (name_key(name), child) in meant
    ]
    if older:
        void(Welcome.objects.filter(pk__in=older), now=now)


def _roles(person: Invited) -> list[Welcome]:
    """The unsaved invitation to each role."""
    known = {"email": person.email, "name": person.name}
    roles = [Welcome(**known, as_instructor=True)] if person.as_instructor else []
    if person.student is not None:
        roles.append(Welcome(**known, student=person.student))
    return roles + [Welcome(**known, guardian_of=child) for child in person.guardian_of]
