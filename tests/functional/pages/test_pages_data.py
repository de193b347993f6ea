"""A person's own data on the pages: exported, asked for whole, and erased."""

from datetime import timedelta

import pytest

from accounts.models import User
from bookings import clock
from bookings.models import AuditReason, Intake, PrivacyRequest
from bookings.operations.subscriptions import open_feed
from bookings.queries.privacy import ERASED_AFTER
from bookings.tasks import enqueue_due, let_go
from tests.cast import NOW, make_assessment, taught
from tests.functional.pages.school import School, as_user, text_of
from tests.school.privacy import read_zip
from tests.school.statements import statement_of

pytestmark = pytest.mark.sql

REMARK = "canary-c41e"


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> list:
    """The interface's clock, stopped; a test moves it by writing into the list."""
    moved = [NOW]
    monkeypatch.setattr(clock, "now", lambda: moved[0])
    return moved


def page_of(school: School) -> str:
    return f"/students/{school.noor.pk}/data/"


def with_remark(school: School) -> None:
    note = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    note.private_remarks = REMARK
    note.save()


def test_a_student_leaves_for_good(school: School, hands: list) -> None:
    """Source: TRADE.md 8 scenario 25. Over HTTP, from the request to the roster and the books."""
    with_remark(school)
    noor, dag, page = as_user(school.noor.user), as_user(school.dag), page_of(school)
    lesson = taught(school.ilse, school.noor, school.consultation, NOW - timedelta(days=2))
    statement = statement_of(school.ilse, school.dag, lesson.meeting)
    _, secret = open_feed(actor=school.noor.user, label="Phone", now=NOW)
    books = f"/statements/{statement.pk}/"
    before = text_of(dag.get(books)).partition("<main")[2]
    assert page in text_of(noor.get("/me/"))
    assert "Consultation with Ilse Quarrow" in text_of(noor.get(f"{page}erase/"))
    assert noor.post(f"{page}erase/").status_code == 409
    assert noor.post(f"{page}erase/", {"end": "yes"}).status_code == 302
    school.booking.refresh_from_db()
    assert school.booking.standing == "ENDED"
    assert "An admin has not approved" not in text_of(noor.get(page))
    assert "Approve the erasure of Noor Ashgrove?" in text_of(dag.get(f"{page}erase/approve/"))
    assert dag.post(f"{page}erase/approve/").status_code == 302
    hands[0] = NOW + ERASED_AFTER
    enqueue_due()
    assert as_user(User.objects.get(pk=school.noor.user_id)).get("/me/").status_code == 302
    assert noor.get(f"/calendar/{secret}.ics").status_code == 404
    roster = text_of(dag.get(f"/meetings/{lesson.meeting_id}/"))
    assert "Former student" in roster
    assert "Noor" not in roster
    assert text_of(dag.get(books)).partition("<main")[2] == before
    assert "has been erased" in text_of(dag.get(page))


def test_an_erasure_is_taken_back_on_the_page(school: School, hands: list) -> None:
    """By the family, even after the approval."""
    noor, page = as_user(school.noor.user), page_of(school)
    noor.post(f"{page}erase/", {"end": "yes"})
    as_user(school.dag).post(f"{page}erase/approve/")
    assert "Take the erasure back" in text_of(noor.get(page))
    assert noor.post(f"{page}erase/take-back/").status_code == 302
    assert PrivacyRequest.objects.get().ended_how == "taken-back"
    hands[0] = NOW + ERASED_AFTER
    enqueue_due()
    school.noor.refresh_from_db()
    assert (school.noor.full_name, school.noor.is_active) == ("Noor Ashgrove", True)


def test_an_export_is_an_archive_that_nothing_stores(school: School, hands: list) -> None:
    """Source: TRADE.md 8 scenario 12. No cache keeps it, and no private remark is in it."""
    with_remark(school)
    answer = as_user(school.noor.user).post(f"{page_of(school)}export/")
    assert answer["Content-Type"] == "application/zip"
    assert answer["Cache-Control"] == "no-store, private"
    assert answer["Content-Disposition"].startswith('attachment; filename="student-')
    told, calendar = read_zip(answer.content)
    assert told["data"]["account"][0]["name"] == "Noor Ashgrove"
    assert REMARK not in str(told) + calendar


def test_an_admin_says_why_and_keeps_what_was_typed(school: School, hands: list) -> None:
    """Without a reason nothing is read."""
    dag, page = as_user(school.dag), page_of(school)
    refused = dag.post(f"{page}export/", {"reason": " "})
    assert refused.status_code == 422
    assert "Say why this is needed" in text_of(refused)
    assert not AuditReason.objects.exists()
    assert dag.post(f"{page}export/", {"reason": "Asked by telephone."}).status_code == 200
    assert AuditReason.objects.get().text == "Asked by telephone."
    asked = dag.post(f"{page}erase/", {"reason": "The family wrote."})
    assert asked.status_code == 409
    assert 'value="The family wrote."' in text_of(asked)


def test_an_access_export_is_fetched_once_an_admin_has_approved_it(
    school: School, hands: list
) -> None:
    """Source: TRADE.md 8 scenario 12: private remarks leave in nothing else, approved by Dag."""
    with_remark(school)
    noor, dag, page = as_user(school.noor.user), as_user(school.dag), page_of(school)
    assert noor.post(f"{page}access/").status_code == 302
    assert "An admin has not approved it yet" in text_of(noor.get(page))
    assert noor.post(f"{page}access/file/").status_code == 409
    assert noor.post(f"{page}access/approve/").status_code == 403
    assert dag.post(f"{page}access/approve/").status_code == 302
    told, _ = read_zip(noor.post(f"{page}access/file/").content)
    assert REMARK in str(told)
    assert noor.post(f"{page}access/take-back/").status_code == 302
    assert noor.post(f"{page}access/file/").status_code == 404


def test_an_admin_reads_how_long_data_is_kept_and_what_is_due(school: School, hands: list) -> None:
    """The same figures as `manage.py retention`, before and after the daily work."""
    kept = {"booking": school.booking, "written_at": NOW, "pieces": "Study 4"}
    intake = Intake(**kept)
    intake.hurts = "The left wrist."
    intake.save()
    hands[0] = school.booking.ends_at + timedelta(days=90)
    page = text_of(as_user(school.dag).get("/retention/"))
    assert "Nothing has been deleted yet." in page
    told = "<b>What families wrote about pain</b>: 90 days after the lesson."
    due = '<br><span class="theirs">1 due, the oldest of 12 March 2027</span>'
    assert f"{told}{due}" in page
    let_go()
    page = text_of(as_user(school.dag).get("/retention/"))
    assert f"{told}</li>" in page
    assert "Nothing is due." in page
    assert "Last done on" in page
