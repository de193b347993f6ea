"""The export of one person: what is in it, who gets it, and what it leaves behind."""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyKind
from bookings.models import Assessment, AuditRow
from bookings.operations.exporting import export_all, export_person
from bookings.operations.privacy_requests import approve, ask_for_access, take_back
from bookings.queries.privacy import ACCESS_STAYS
from tests import cast
from tests.cast import NOW, user_of
from tests.school.privacy import ASKED, GOAL, HURTS, REMARK, PrivateSchool, opened

pytestmark = pytest.mark.django_db
WHY = "The family asked by telephone."


@pytest.fixture
def school() -> PrivateSchool:
    made = PrivateSchool()
    made.write_of(made.noor)
    return made


def refused(act, **what) -> str:
    with pytest.raises(Refused) as caught:
        act(now=NOW, **what)
    return caught.value.code


def test_a_student_gets_all_that_is_stored_but_private_remarks(school) -> None:
    """Source: TRADE.md 8 scenario 12; TRADE.md 4, rights."""
    noor = user_of(school.noor)
    export = export_person(actor=noor, student_id=school.noor.pk, now=NOW)
    told, calendar = opened(export)
    data = told["data"]
    assert data["account"][0]["email"] == noor.email
    assert [note["goal"] for note in data["notes"]] == [GOAL]
    assert data["intakes"][0]["questions"] == [ASKED]
    assert data["intakes"][0]["hurts"] == HURTS
    assert len(data["bookings"]) == school.noor.bookings.count()
    told_of = school.noor.bookings.filter(answer_by__isnull=True)  # an offer is in no calendar
    assert calendar.count("BEGIN:VEVENT") == told_of.count()
    for hidden in (REMARK, "canary-draft", "canary-room", "canary-admin"):
        assert hidden not in str(told) + calendar
    assert set(data) == set(told["meaning"])


def test_an_export_is_logged_and_named_after_nobody(school) -> None:
    """Each note in it counts as read; the archive's name is an id and a date."""
    export = export_person(actor=school.dag, student_id=school.noor.pk, reason=WHY, now=NOW)
    assert export.name == f"student-{school.noor.pk}-2027-03-01.zip"
    note = Assessment.objects.released().get()
    assert [(row.reader, row.relation, row.reason) for row in note.readings.all()] == [
        (school.dag, "admin", WHY)
    ]
    row = AuditRow.objects.get(verb="exported")
    assert (row.actor, row.thing_id, row.reason) == (school.dag, school.noor.pk, WHY)


def test_an_admin_gives_a_reason_and_is_not_told_what_hurts(school) -> None:
    """Health is for the family and the instructor of the lesson (docs/decisions/people.md)."""
    assert refused(export_person, actor=school.dag, student_id=school.noor.pk) == "invalid"
    told, _ = opened(
        export_person(actor=school.dag, student_id=school.noor.pk, reason=WHY, now=NOW)
    )
    assert "hurts" not in told["data"]["intakes"][0]
    assert HURTS not in str(told)


def test_nobody_else_gets_an_export(school) -> None:
    """Not another family, not the instructor, and no guardian of a grown child."""
    lark = cast.make_minor("Lark Fell", guardian=school.hedda, adult_on=NOW.date())
    for actor, student in (
        (user_of(school.marlo), school.noor),
        (school.ilse.user, school.noor),
        (school.hedda, lark),
    ):
        for act in (export_person, ask_for_access, export_all):
            assert refused(act, actor=actor, student_id=student.pk) == "not-found"


def test_an_access_export_holds_private_remarks_once_an_admin_approves_it(school) -> None:
    """Source: TRADE.md 8 scenario 12. It goes to whoever asked, and for fourteen days."""
    noor, what = user_of(school.noor), {"student_id": school.noor.pk}
    assert refused(export_all, actor=noor, **what) == "not-found"
    ask_for_access(actor=noor, now=NOW, **what)
    assert refused(export_all, actor=noor, **what) == "not-yet"
    access = {"kind": PrivacyKind.ACCESS, **what}
    assert refused(approve, actor=noor, **access) == "not-allowed"
    approve(actor=school.dag, now=NOW, **access)
    told, _ = opened(export_all(actor=noor, now=NOW, **what))
    assert REMARK in str(told)
    assert "canary-draft" in str(told)
    assert refused(export_all, actor=school.dag, **what) == "not-found"
    with pytest.raises(Refused):
        export_all(actor=noor, now=NOW + ACCESS_STAYS, **what)
    ask_for_access(actor=noor, now=NOW + ACCESS_STAYS, **what)


def test_an_access_export_is_asked_for_once_and_taken_back(school) -> None:
    """A second press asks for nothing more."""
    noor, what = user_of(school.noor), {"student_id": school.noor.pk}
    ask_for_access(actor=noor, now=NOW, **what)
    assert refused(ask_for_access, actor=noor, **what) == "already-done"
    take_back(actor=noor, kind=PrivacyKind.ACCESS, now=NOW, **what)
    assert refused(export_all, actor=noor, **what) == "not-found"


def test_a_childs_export_names_no_barred_guardian(school) -> None:
    """Why somebody is barred may quote a court or a child."""
    other = cast.make_user("Jory Lindqvist")
    school.posy.guardianships.create(
        guardian=other, barred_at=NOW, barred_by=school.dag, barred_why="canary-bar"
    )
    told, _ = opened(export_person(actor=school.hedda, student_id=school.posy.pk, now=NOW))
    assert [row["guardian_name"] for row in told["data"]["guardians"]] == [school.hedda.name]
    assert "canary-bar" not in str(told)
    assert "Jory" not in str(told)
