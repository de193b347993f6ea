"""What a file of people would do to the school as it is: who is new, who is here, who is invited.

Whoever is here already stays as they are, so the same file twice changes nothing.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from bookings.domain.names import name_key
from bookings.domain.people_doubles import addressed
from bookings.domain.people_files import Column
from bookings.domain.people_rows import Fault, InstructorRow, Person, PersonRow, StudentRow


@dataclass(frozen=True, slots=True)
class KnownAccount:
    """An account. `teaches` is None for somebody who never did, False for who did before."""

    name: str
    is_open: bool
    teaches: bool | None
    is_minors: bool = False


@dataclass(frozen=True, slots=True)
class KnownStudent:
    """A student. `email` is that of their account, or of an invitation to it; empty for neither."""

    id: int
    name: str
    email: str
    adult_on: date | None
    has_left: bool


@dataclass(frozen=True, slots=True)
class Known:
    """The school, as far as the file speaks of it.

    `answering` holds (student id, address) of every guardian who is one, was barred or has ever
    been invited to be; `barred` those barred now. `invited` are the addresses of instructors who
    have been invited.
    """

    accounts: Mapping[str, KnownAccount] = field(default_factory=dict)
    students: Sequence[KnownStudent] = ()
    answering: frozenset[tuple[int, str]] = frozenset()
    barred: frozenset[tuple[int, str]] = frozenset()
    invited: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Line:
    """What one row does: the person, whether they are new, and who is invited because of it."""

    row: int
    person: PersonRow
    is_new: bool
    student_id: int | None = None
    new_guardians: tuple[Person, ...] = ()
    note: str = ""

    @property
    def is_student(self) -> bool:
        return isinstance(self.person, StudentRow)

    @property
    def changes_nothing(self) -> bool:
        return not self.is_new and not self.new_guardians


@dataclass(frozen=True, slots=True)
class Plan:
    """The lines of a file without faults, or its faults."""

    lines: Sequence[Line]
    faults: Sequence[Fault]

    @property
    def digest(self) -> str:
        """Changes when anything changes that the plan would do."""
        said = repr([line for line in self.lines if not line.changes_nothing])
        return hashlib.sha256(said.encode()).hexdigest()

    @property
    def students(self) -> list[StudentRow]:
        """Those who are added."""
        return [
            line.person
            for line in self.lines
            if line.is_new and isinstance(line.person, StudentRow)
        ]

    @property
    def invited(self) -> dict[str, str]:
        """Everybody who gets an invitation, one each: their names by address."""
        found: dict[str, str] = {}
        for line in self.lines:
            if line.is_new and line.person.email:
                found.setdefault(line.person.email, line.person.name)
            for guardian in line.new_guardians:
                found.setdefault(guardian.email, guardian.name)
        return found

    @property
    def here(self) -> int:
        """How many rows change nothing."""
        return sum(line.changes_nothing for line in self.lines)


def plan_of(people: Sequence[PersonRow], known: Known) -> Plan:
    """What these rows would do, which are free of faults in themselves."""
    by_email = {student.email: student for student in known.students if student.email}
    by_name: dict[str, list[KnownStudent]] = {}
    for student in known.students:
        by_name.setdefault(name_key(student.name), []).append(student)
    lines: list[Line] = []
    faults: list[Fault] = []
    for person in people:
        if isinstance(person, InstructorRow):
            lines.append(_instructor(person, known))
            faults += _faults_of_accounts(lines[-1], known)
            continue
        found = by_email.get(person.email) if person.email else None
        same_name = by_name.get(name_key(person.name), [])
        if found is None:
            wrong = _looks_like(person, same_name, known)
            faults += [wrong] if wrong else []
            found = _match(person, same_name)
        lines.append(_student(person, found, known))
        faults += _faults_of_accounts(lines[-1], known)
        faults += _barred(person, found, known)
    return Plan(lines, sorted(faults, key=lambda fault: fault.row))


def _match(person: StudentRow, same_name: Sequence[KnownStudent]) -> KnownStudent | None:
    """The student of that name and 18th birthday; an adult with an address has it for a name."""
    if person.email:
        return None
    return next((one for one in same_name if one.adult_on == person.adult_on), None)


def _looks_like(
    person: StudentRow, same_name: Sequence[KnownStudent], known: Known
) -> Fault | None:
    """A student of the same name who may be the same, told so that nobody is added twice."""
    for one in same_name:
        if person.email and not one.email and one.adult_on is None:
            return Fault(
                person.row,
                Column.EMAIL,
                "An adult of this name is here without an account. Take this row out, and invite "
                "them from their page.",
            )
        is_family = any(
            (one.id, guardian.email) in known.answering for guardian in person.named_guardians
        )
        if is_family and one.adult_on != person.adult_on:
            on = one.adult_on.isoformat() if one.adult_on else "empty: an adult"
            return Fault(
                person.row,
                Column.COMES_OF_AGE,
                f"A student of this name with this guardian is here. Their date is {on}. Write "
                "that, or change it on their page first.",
            )
    return None


def _student(person: StudentRow, found: KnownStudent | None, known: Known) -> Line:
    if found is None:
        return Line(person.row, person, True, new_guardians=person.named_guardians)
    more = (
        ()
        if found.has_left
        else tuple(
            guardian
            for guardian in person.named_guardians
            if (found.id, guardian.email) not in known.answering
        )
    )
    note = "Has left the school." if found.has_left else ""
    return Line(person.row, person, False, found.id, more, note)


def _instructor(person: InstructorRow, known: Known) -> Line:
    account = known.accounts.get(person.email)
    is_here = person.email in known.invited or (account is not None and bool(account.teaches))
    return Line(person.row, person, not is_here)


def _faults_of_accounts(line: Line, known: Known) -> list[Fault]:
    """An address to invite whose account is closed, has another name, or is a former instructor's.

    Whoever is here already is not asked again: they may have another name by now.
    """
    faults = []
    person = line.person
    for column, one in addressed(person):
        account = known.accounts.get(one.email)
        is_asked = line.is_new if column is Column.NAME else one in line.new_guardians
        if account is None or not is_asked:
            continue
        if name_key(account.name) != name_key(one.name):
            detail = (
                f"The account with this address has the name “{account.name}”. Write that name, "
                "or another address."
            )
        elif not account.is_open:
            detail = "The account with this address is closed. Open it again first."
        elif account.is_minors and column is not Column.NAME:
            detail = "A guardian is an adult, and the account with this address is a minor’s."
        elif isinstance(person, InstructorRow) and account.teaches is False:
            detail = "They taught here before. Let them teach again on the page of their account."
        else:
            continue
        faults.append(Fault(person.row, column, detail))
    return faults


def _barred(person: StudentRow, found: KnownStudent | None, known: Known) -> list[Fault]:
    if found is None:
        return []
    return [
        Fault(
            person.row,
            column,
            f"{guardian.name} is barred as a guardian of this student. Take them out of this row.",
        )
        for column, guardian in zip(
            (Column.GUARDIAN, Column.SECOND_GUARDIAN), person.named_guardians, strict=False
        )
        if (found.id, guardian.email) in known.barred
    ]
