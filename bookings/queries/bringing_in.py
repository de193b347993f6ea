"""What a file of people would do to the school as it is: five statements, however long the file."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from accounts.models import Guardianship, Student, User, Welcome
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.names import name_key
from bookings.domain.people_doubles import doubles
from bookings.domain.people_files import read_sheet, unreadable
from bookings.domain.people_plan import Known, KnownAccount, KnownStudent, Plan, plan_of
from bookings.domain.people_rows import PersonRow, StudentRow, missing_of_students, read_rows
from bookings.domain.policy import is_minor
from bookings.models import PeopleFile

_AT_A_TIME = 2_000


def waiting_file(actor: User, file_id: UUID, *, now: datetime) -> PeopleFile:
    """A file that this admin has uploaded within the last hour.

    Refused: "not-allowed" for anybody else than an admin, "stale".
    """
    require_admin(actor)
    found = PeopleFile.objects.waiting(now).filter(kept_by=actor, pk=file_id).first()
    if found is None:
        raise Refused("stale", "This preview has expired: choose the file again.")
    return found


def people_plan(text: str, *, now: datetime) -> Plan:
    """The plan of a file, or the faults of its rows. Refused("invalid") where it cannot be read.

    The school is compared only with rows that are free of faults in themselves.
    """
    sheet = read_sheet(text)
    missing = missing_of_students(sheet)
    if missing:
        names = ", ".join(f"“{column}”" for column in missing)
        raise unreadable(f"A file with students needs these headings too: {names}.")
    people, faults = read_rows(sheet, is_address=_is_address, now=now)
    plan = plan_of(people, known_of(people, now=now))
    faults = sorted([*faults, *doubles(people), *plan.faults], key=lambda fault: fault.row)
    return Plan(plan.lines, faults)


def _is_address(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True


def known_of(people: Sequence[PersonRow], *, now: datetime) -> Known:
    """The school as far as these people are concerned, read from end to end and kept in part."""
    wanted = {person.email for person in people} - {""}
    for person in people:
        if isinstance(person, StudentRow):
            wanted |= {guardian.email for guardian in person.named_guardians}
    invitations = [
        row
        for row in Welcome.objects.order_by("pk")
        .values_list("email", "student", "guardian_of", "as_instructor")
        .iterator(_AT_A_TIME)
        if row[0] in wanted
    ]
    guardians = [
        row
        for row in Guardianship.objects.order_by("pk")
        .values_list("student", "guardian__email", "barred_at")
        .iterator(_AT_A_TIME)
        if row[1] in wanted
    ]
    answering = {(student, email) for student, email, _ in guardians}
    answering |= {(child, email) for email, _, child, _ in invitations if child is not None}
    return Known(
        accounts=_accounts(wanted, now),
        students=_students(
            {name_key(person.name) for person in people},
            wanted,
            {student: email for email, student, _, _ in invitations if student is not None},
        ),
        answering=frozenset(answering),
        barred=frozenset((student, email) for student, email, barred in guardians if barred),
        invited=frozenset(email for email, _, _, teaches in invitations if teaches),
    )


def _accounts(wanted: set[str], now: datetime) -> dict[str, KnownAccount]:
    rows = User.objects.order_by("pk").values_list(
        "email", "name", "is_active", "instructor__is_active", "student__adult_on", "time_zone"
    )
    return {
        email: KnownAccount(
            name, is_open, teaches, is_minor(adult_on, now.astimezone(own_zone).date())
        )
        for email, name, is_open, teaches, adult_on, own_zone in rows.iterator(_AT_A_TIME)
        if email in wanted
    }


def _students(names: set[str], wanted: set[str], invited: dict[int, str]) -> list[KnownStudent]:
    rows = Student.objects.order_by("pk").values_list(
        "pk", "own_name", "user__name", "user__email", "adult_on", "is_active"
    )
    found = []
    for pk, own_name, account_name, account_email, adult_on, is_active in rows.iterator(_AT_A_TIME):
        name, email = account_name or own_name, account_email or invited.get(pk, "")
        if email in wanted or name_key(name) in names:
            found.append(KnownStudent(pk, name, email, adult_on, not is_active))
    return found
