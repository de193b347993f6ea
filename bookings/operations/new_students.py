"""A student added together with those who are invited for them."""

from collections.abc import Sequence
from datetime import date, datetime

from accounts.models import Student, User
from bookings.access import require_admin
from bookings.domain.addresses import mail_address
from bookings.domain.errors import Refused
from bookings.domain.names import name_key
from bookings.domain.people_plan import plan_of
from bookings.domain.people_rows import Person, StudentRow
from bookings.operations.invitations import invite
from bookings.operations.locks import lock_admins
from bookings.operations.students import add_student
from bookings.queries.bringing_in import known_of

MOST_GUARDIANS = 2


def add_student_and_invite(
    *,
    actor: User,
    name: str,
    level: int,
    unit: int,
    time_zone: str,
    adult_on: date | None,
    email: str = "",
    new_guardians: Sequence[Person] = (),
    now: datetime,
) -> Student:
    """Adds a student, and invites an adult at `email` and a minor's guardians, each by an email.

    Refused with nothing done: "invalid" with `field` ("name", "email", or "guardians/0" and
    "guardians/1") where the student is here already, an adult has guardians, a minor has an
    address, there are more than two guardians, an address comes twice or belongs to an account of
    another name; and as `add_student` and `invite`.
    """
    require_admin(actor)
    _check_email(email, adult_on)
    _check_guardians(new_guardians, adult_on)
    lock_admins()  # a form that was sent twice, or by two, finds the student here
    email = mail_address(email) if email else ""
    guardians = tuple(Person(one.name, mail_address(one.email)) for one in new_guardians)
    row = StudentRow(1, name, email, level, unit, adult_on, time_zone, guardians)
    _check_is_new(row, now)
    student = add_student(
        actor=actor,
        name=name,
        level=level,
        unit=unit,
        time_zone=time_zone,
        adult_on=adult_on,
        now=now,
    )
    _invite(student, row, actor=actor, now=now)
    return student


def _invite(student: Student, row: StudentRow, *, actor: User, now: datetime) -> None:
    if row.email:
        _check_name(Person(row.name, row.email), "email")
        invite(actor=actor, email=row.email, name=row.name, student=student, now=now)
    for number, one in enumerate(row.named_guardians):
        _check_name(one, f"guardians/{number}")
        invite(actor=actor, email=one.email, name=one.name, guardian_of=student, now=now)


def _check_is_new(row: StudentRow, now: datetime) -> None:
    """Whoever a file of people would find here is not added by hand a second time either."""
    (line,) = plan_of([row], known_of([row], now=now)).lines
    if line.is_new:
        return
    if row.email:
        raise Refused(
            "invalid", "A student with this address is here or invited already.", field="email"
        )
    same, other = (
        ("An adult of this name", "give an email address")
        if row.adult_on is None
        else ("A minor of this name and 18th birthday", "write the name in another way")
    )
    raise Refused(
        "invalid", f"{same} is here already. If this is somebody else, {other}.", field="name"
    )


def _check_email(email: str, adult_on: date | None) -> None:
    if email and adult_on is not None:
        raise Refused(
            "invalid",
            "Leave this empty for a minor. Invite them from their page once a guardian has joined.",
            field="email",
        )


def _check_guardians(guardians: Sequence[Person], adult_on: date | None) -> None:
    if guardians and adult_on is None:
        raise Refused("invalid", "An adult has no guardian here.", field="guardians/0")
    if len(guardians) > MOST_GUARDIANS:
        raise Refused("invalid", "Name two guardians at most.", field="guardians/1")
    addresses = [mail_address(guardian.email) for guardian in guardians]
    if len(set(addresses)) < len(addresses):
        raise Refused("invalid", "The two guardians need an address each.", field="guardians/1")


def _check_name(person: Person, field: str) -> None:
    """An address of somebody else would give them a child who is not theirs."""
    account = User.objects.filter(email=mail_address(person.email)).first()
    if account is not None and name_key(account.name) != name_key(person.name):
        raise Refused(
            "invalid",
            f"The account with this address has the name “{account.name}”. Use that name, or "
            "another address.",
            field=field,
        )
