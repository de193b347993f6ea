"""Two admins who do the same at once, on PostgreSQL: it is done once."""

import threading
from collections.abc import Callable
from datetime import date

import pytest

from accounts.models import Student, User, Welcome
from bookings.domain.errors import Refused
from bookings.domain.people_rows import Person
from bookings.door import write
from bookings.operations.bringing_in import bring_in
from bookings.operations.new_students import add_student_and_invite
from bookings.queries.bringing_in import people_plan
from tests import cast
from tests.cast import NOW
from tests.school.bringing_in import keep
from tests.school.people_files import FAMILY, MINOR
from tests.threads import beside

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def at_once(*acts: Callable[[], object]) -> list[str]:
    """Each in a thread of its own, from one instant; the codes of the refusals."""
    start, codes = threading.Barrier(len(acts)), []

    def compete(act: Callable[[], object]) -> None:
        start.wait(20)
        try:
            write(act, now=NOW)
        except Refused as refusal:
            codes.append(refusal.code)

    for thread in [beside(lambda act=act: compete(act)) for act in acts]:
        thread.join(40)
    return codes


def brings_in(admin: User, *rows: dict[str, str]) -> Callable[[], object]:
    """Brings a file in, as its preview has just shown it."""
    kept = keep(admin, *rows)
    seen = people_plan(kept.text, now=NOW).digest
    return lambda: bring_in(actor=admin, file_id=kept.pk, seen=seen, now=NOW)


def adds_kit(admin: User) -> Callable[[], object]:
    """Adds the minor of the file by hand."""
    return lambda: add_student_and_invite(
        actor=admin,
        name="Kit Fell",
        level=2,
        unit=1,
        time_zone="Australia/Sydney",
        adult_on=date(2034, 6, 1),
        new_guardians=[Person("Ines Fell", "ines@fell.example")],
        now=NOW,
    )


def test_two_admins_bring_the_same_file_in_at_once() -> None:
    """The second is told to look again; nobody is added or invited twice."""
    dag, una = cast.make_admin(), cast.make_admin("Una Marsh")
    assert at_once(brings_in(dag, *FAMILY), brings_in(una, *FAMILY)) == ["stale"]
    assert (Student.objects.count(), Welcome.objects.count()) == (3, 5)


def test_one_brings_a_file_in_while_another_adds_the_same_student() -> None:
    """Whichever is second finds the student here."""
    dag, una = cast.make_admin(), cast.make_admin("Una Marsh")
    assert len(at_once(brings_in(dag, MINOR), adds_kit(una), adds_kit(dag))) == 2
    assert (Student.objects.count(), Welcome.objects.count()) == (1, 1)
