"""People brought in from a file: once, as shown, and invited by the rules of one invitation."""

from collections import Counter
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Guardianship, Student, User, Welcome
from bookings.domain.errors import Refused
from bookings.domain.people_files import MOST_ROWS
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage, PeopleFile
from bookings.operations.bringing_in import forget_old_files
from bookings.operations.invitations import welcomes_by_secret, withdraw_invitation
from bookings.queries.bringing_in import people_plan
from tests import cast
from tests.cast import NOW
from tests.school.bringing_in import (
    bring,
    brought,
    joins,
    keep,
    plan_of,
    rows_of_a_large_school,
    secret_to,
    stored,
)
from tests.school.people_files import ADULT, FAMILY, MINOR, SECOND, SIBLING, TEACHER

pytestmark = pytest.mark.django_db
INES = "ines@fell.example"


@pytest.fixture
def dag() -> User:
    return cast.make_admin()


def refused(code, act):
    before = stored()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert stored() == before


def test_a_family_an_adult_and_an_instructor_come_in_together(dag):
    """Students at once, everybody else by an invitation; each step is on record."""
    done = brought(dag, *FAMILY)
    names = Student.objects.order_by("pk").values_list("own_name", "level", "unit", "adult_on")
    assert [(name, level, unit, str(on)) for name, level, unit, on in names] == [
        ("Robin Marsh", 4, 2, "None"),
        ("Kit Fell", 2, 1, "2034-06-01"),
        ("Wren Fell", 2, 1, "2036-09-14"),
    ]
    assert (len(done.students), done.people_invited, done.here) == (3, 4, 0)
    verbs = Counter(AuditRow.objects.values_list("actor", "verb", "thing"))
    assert verbs == {(dag.pk, "added", "student"): 3, (dag.pk, "invited", "welcome"): 5}
    assert not PeopleFile.objects.exists()


def test_each_address_gets_one_invitation_for_all_that_it_is_invited_to(dag):
    """A guardian of two who also learns and teaches: one email, one link, four roles."""
    ines = {"Name": "Ines Fell", "Email": INES}
    brought(dag, MINOR, SIBLING, {**TEACHER, **ines}, {**ADULT, **ines})
    (message,) = OutboxMessage.objects.all()
    assert (message.to_address, message.kind) == (INES, "welcome")
    user = joins(INES)
    assert Guardianship.objects.filter(guardian=user).count() == 2
    assert (user.instructor.is_active, user.student.level) == (True, 4)
    assert not Welcome.objects.usable(NOW).exists()


def test_the_same_file_twice_changes_nothing(dag):
    """Before anybody has joined, after they have, and after a role has ended."""
    brought(dag, *FAMILY)
    for changed in (lambda: None, lambda: joins(INES), lambda: joins("robin@marsh.example")):
        changed()
        before = stored()
        done = brought(dag, *FAMILY)
        assert (done.students, done.people_invited, done.here) == ([], 0, len(FAMILY))
        assert stored() == before


def test_what_changed_after_the_file_stays(dag):
    """Another level, an invitation that was withdrawn, a guardian removed: no file undoes it."""
    brought(dag, *FAMILY)
    Student.objects.filter(own_name="Kit Fell").update(level=7)
    joins(INES)
    Guardianship.objects.all().delete()
    otto = Welcome.objects.get(email="otto@fell.example")
    write(lambda: withdraw_invitation(actor=dag, welcome=otto, now=NOW), now=NOW)
    User.objects.filter(email=INES).update(name="Ines Marsh")
    before = stored()
    assert brought(dag, *FAMILY).here == len(FAMILY)
    assert stored() == before
    assert Student.objects.get(own_name="Kit Fell").level == 7


def test_a_withdrawn_role_leaves_the_others_of_the_link(dag):
    """The email goes out; its link gives what is still open."""
    brought(dag, MINOR, SIBLING)
    first = Welcome.objects.filter(email=INES).earliest("pk")
    write(lambda: withdraw_invitation(actor=dag, welcome=first, now=NOW), now=NOW)
    user = joins(INES)
    assert [row.student.own_name for row in user.guardianships.all()] == ["Wren Fell"]


def test_a_link_without_any_role_left_never_leaves(dag):
    """Both withdrawn: the email goes with its secret."""
    brought(dag, MINOR, SIBLING)
    for row in Welcome.objects.all():
        write(lambda row=row: withdraw_invitation(actor=dag, welcome=row, now=NOW), now=NOW)
    message = OutboxMessage.objects.get()
    assert (message.state, message.body) == ("superseded", "")


def test_somebody_who_is_here_is_found_in_any_capitals(dag):
    """By address, or by name and date where they have no account."""
    robin = cast.make_student("Robin Marsh", email="robin@marsh.example")
    kit = cast.make_minor("kit  fell", guardian=cast.make_user("Ines Fell", email=INES))
    plan = plan_of({**ADULT, "Email": "ROBIN@Marsh.example"}, MINOR)
    assert [(line.is_new, line.student_id) for line in plan.lines] == [
        (False, robin.pk),
        (False, kit.pk),
    ]
    assert (plan.here, plan.faults) == (2, [])


def test_another_guardian_of_a_student_who_is_here_is_invited(dag):
    """The student stays as they are."""
    brought(dag, MINOR)
    done = brought(dag, {**MINOR, **SECOND, "Level": "9"})
    assert (done.students, done.people_invited) == ([], 1)
    assert Welcome.objects.latest("pk").email == "otto@fell.example"
    assert Student.objects.get().level == 2


def test_an_address_that_was_mistyped_is_put_right_by_the_next_file(dag):
    """The link that went to the wrong address opens nothing then, of an instructor too."""
    brought(dag, MINOR, TEACHER)
    wrong = secret_to(INES), secret_to("tenzin@orlo.example")
    brought(
        dag,
        {**MINOR, "Guardian email": "ines.fell@fell.example"},
        {**TEACHER, "Email": "tenzin@tenzin.example"},
    )
    for secret in wrong:
        with pytest.raises(Refused):
            welcomes_by_secret(secret, now=NOW)
    open_ones = Welcome.objects.usable(NOW).order_by("email").values_list("email", flat=True)
    assert list(open_ones) == ["ines.fell@fell.example", "tenzin@tenzin.example"]
    joins("ines.fell@fell.example")


def test_an_account_that_is_here_gains_the_role_by_its_invitation(dag):
    """As when an admin invites them by hand: they accept it themselves."""
    ines = cast.make_user("Ines Fell", email=INES)
    brought(dag, MINOR)
    assert not Guardianship.objects.exists()
    assert joins(INES) == ines
    assert Guardianship.objects.get().guardian == ines


def test_a_file_with_faults_brings_nobody_in(dag):
    """Not even its good rows."""
    kept = keep(dag, ADULT, {**MINOR, "Level": "12"})
    refused("invalid", lambda: bring(dag, kept))


def test_only_what_was_shown_is_done(dag):
    """Somebody else has added the student meanwhile: look again."""
    kept = keep(dag, *FAMILY)
    seen = people_plan(kept.text, now=NOW).digest
    cast.make_minor("Kit Fell")
    refused("stale", lambda: bring(dag, kept, seen))
    refused("stale", lambda: bring(dag, kept, ""))
    assert len(bring(dag, kept).students) == 2


def test_a_file_waits_an_hour_for_the_admin_who_chose_it(dag):
    """Then it is deleted, and a newer one takes its place at once."""
    una = cast.make_admin("Una Marsh")
    kept = keep(dag, *FAMILY)
    refused("stale", lambda: bring(una, kept, "x"))
    refused("stale", lambda: bring(dag, kept, now=NOW + timedelta(hours=1)))
    again = keep(dag, ADULT)
    assert list(PeopleFile.objects.all()) == [again]
    forget_old_files(NOW + timedelta(minutes=59))
    assert PeopleFile.objects.exists()
    forget_old_files(NOW + timedelta(hours=1))
    assert not PeopleFile.objects.exists()


def test_only_an_admin_brings_people_in(dag):
    """The operations ask, whichever interface calls."""
    noor, kept = cast.make_student().user, keep(dag, *FAMILY)
    refused("not-allowed", lambda: keep(noor, *FAMILY))
    refused("not-allowed", lambda: bring(noor, kept, "x"))


def test_a_kept_file_is_sealed(dag):
    """Whoever reads the table reads no name."""
    kept = keep(dag, *FAMILY)
    assert b"Robin" not in bytes(PeopleFile.objects.get().sealed_text)
    assert "Robin Marsh" in kept.text


@pytest.mark.heavy
def test_five_thousand_people_need_few_statements_and_one_invitation_each(dag):
    """The plan reads the school from end to end; the adding is a few rows of SQL a thousand."""
    kept = keep(dag, *rows_of_a_large_school())
    with CaptureQueriesContext(
        connection,
    ) as planned:
        plan = people_plan(kept.text, now=NOW)
    assert (len(plan.students), plan.faults, len(planned)) == (MOST_ROWS, [], 4)
    with CaptureQueriesContext(connection) as adding:
        done = bring(dag, kept, plan.digest)
    assert len(adding) < MOST_ROWS / 10
    assert done.people_invited == 2500 + 1250
    sent = Counter(OutboxMessage.objects.values_list("to_address", flat=True))
    assert (len(sent), set(sent.values())) == (3750, {1})
