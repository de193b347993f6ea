"""People brought in from a file: kept while an admin looks at it, then added in one step."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from accounts.models import Student, User, Welcome
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.people_files import text_of
from bookings.domain.people_plan import Plan
from bookings.domain.people_rows import InstructorRow
from bookings.domain.zones import zone
from bookings.models import PeopleFile
from bookings.operations.audit import record_all
from bookings.operations.inviting_many import Invited, invite_together
from bookings.operations.locks import lock_admins
from bookings.queries.bringing_in import people_plan, waiting_file


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """Who was added and invited, and how many rows changed nothing."""

    students: list[Student]
    invitations: list[Welcome]
    people_invited: int
    here: int


def keep_file(*, actor: User, content: bytes, now: datetime) -> PeopleFile:
    """Keeps a file for an hour, instead of an older one, so that its plan can be shown.

    Refused: "not-allowed", and "invalid" where it cannot be read, which keeps nothing.
    """
    require_admin(actor)
    text, encoding = text_of(content)
    people_plan(text, now=now)
    PeopleFile.objects.filter(kept_by=actor).delete()
    kept = PeopleFile(kept_by=actor, kept_at=now, encoding=encoding)
    kept.text = text
    kept.save(force_insert=True)
    return kept


def bring_in(*, actor: User, file_id: UUID, seen: str, now: datetime) -> BroughtIn:
    """Adds and invites everybody of a file, exactly as the plan of digest `seen` has shown.

    Each address gets one invitation, for all that it is invited to. Refused: "not-allowed", "stale"
    where the file has waited too long or the school has changed since, "invalid" for a file with
    faults.
    """
    kept = waiting_file(actor, file_id, now=now)
    lock_admins()  # of two who bring the same people in, the second finds them here
    plan = people_plan(kept.text, now=now)
    if plan.digest != seen:
        raise Refused(
            "stale", "The school has changed since this was shown. Look again, then bring them in."
        )
    if plan.faults:
        raise Refused("invalid", "Some rows have faults. Mend them and choose the file again.")
    students = _add(plan, actor, now)
    invitations = invite_together(actor=actor, people=_invited(plan, students), now=now)
    kept.delete()
    return BroughtIn(
        list(students.values()), invitations, len({row.email for row in invitations}), plan.here
    )


def forget_old_files(now: datetime) -> None:
    """Deletes the files whose hour is over."""
    PeopleFile.objects.old(now).delete()


def _add(plan: Plan, actor: User, now: datetime) -> dict[int, Student]:
    """The new students by their row of the file, in few statements."""
    added = {
        person.row: Student(
            own_name=person.name,
            level=person.level,
            unit=person.unit,
            adult_on=person.adult_on,
            own_time_zone=zone(person.time_zone),
        )
        for person in plan.students
    }
    Student.objects.bulk_create(added.values())
    record_all(actor=actor, verb="added", things=list(added.values()), now=now)
    return added


def _invited(plan: Plan, added: dict[int, Student]) -> list[Invited]:
    """Everybody to invite, each once, with all that they are invited to."""
    known = Student.objects.in_bulk(
        [
            line.student_id
            for line in plan.lines
            if line.new_guardians and line.student_id is not None
        ]
    )
    teaching: set[str] = set()
    learning: dict[str, Student] = {}
    children: dict[str, list[Student]] = {}
    for line in plan.lines:
        person = line.person
        if isinstance(person, InstructorRow):
            teaching |= {person.email} if line.is_new else set()
            continue
        student = added[line.row] if line.is_new else known.get(line.student_id or 0)
        if student is None:
            continue
        if line.is_new and person.email:
            learning[person.email] = student
        for guardian in line.new_guardians:
            children.setdefault(guardian.email, []).append(student)
    return [
        Invited(
            email,
            name,
            as_instructor=email in teaching,
            student=learning.get(email),
            guardian_of=children.get(email, ()),
        )
        for email, name in plan.invited.items()
    ]
