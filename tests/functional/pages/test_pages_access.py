"""Who reaches which page: every route of the pages is in the matrix, and no page shows a private
remark to anybody but its author.
"""

from datetime import timedelta

import pytest
from django.urls import URLPattern

from accounts.models import Student, User
from bookings.models import (
    AuditRow,
    Offering,
    OutboxMessage,
    Term,
)
from bookings.pages.urls import urlpatterns
from tests.cast import NOW, make_assessment, make_user
from tests.functional.pages.every_page import counts, pages_of
from tests.functional.pages.matrix import BY_SECRET, MATRIX, addresses
from tests.functional.pages.roles import (
    ADMIN,
    BARRED,
    FOREIGN,
    GROWN,
    GUARDIAN,
    OTHER,
    REMOVED,
    STUDENT,
    TEACHER,
)
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.one_database


def test_authorisation_matrix_names_every_page(db: None) -> None:
    """A new route without a row here fails the build."""
    names = {route.name for route in urlpatterns if isinstance(route, URLPattern)}
    assert names == set(MATRIX) | BY_SECRET


def once_guardians(student: Student) -> dict[str, User]:
    """Three who answered for the student: one until the student, who has an account, came of age,
    one who was removed, and one who is barred.
    """
    grown, removed = make_user("Orsola Reed"), make_user("Hester Vale")
    barred = make_user("Bram Reed")
    student.adult_on = NOW.date() - timedelta(days=28)
    student.save()
    student.guardianships.create(guardian=grown)
    student.guardianships.create(guardian=removed).delete()
    student.guardianships.create(guardian=barred, barred_at=NOW, barred_why="canary-c41e")
    return {GROWN: grown, REMOVED: removed, BARRED: barred}


def test_authorisation_matrix_of_the_pages(school: School) -> None:
    """GET and POST of every route as every role: let through where the matrix says so; elsewhere
    refused, and nothing changes.
    """
    users = {
        STUDENT: school.noor.user,
        OTHER: school.marlo.user,
        GUARDIAN: school.hedda,
        TEACHER: school.ilse.user,
        FOREIGN: school.wren.user,
        ADMIN: school.dag,
        **once_guardians(school.noor),
    }
    asked = {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "starts_at": "2027-03-15T16:00:00Z",
        "instructor": school.ilse.pk,
    }
    places = addresses(school)
    term = {
        "term": Term.objects.get().pk,
        "offering": Offering.objects.get(kind="private-lesson").pk,
        "weekday": 1,
        "wall_at": 1140,
    }
    query = {
        "book": asked,
        "find-people": {"whom": "student"},
        "why": {**asked, "on": "2027-03-15"},
        "take-weekly": {**asked, **term},
        "student-hours": {"student": school.noor.pk},
        "waiting-list": {"student": school.noor.pk},
        "hours": {"instructor": school.ilse.pk},
        "hours-by-week": {"instructor": school.ilse.pk},
        "allow-start": {"instructor": school.ilse.pk},
        "hours-file": {"instructor": school.ilse.pk},
        "reinstate-days": {"instructor": school.ilse.pk},
        "clear-hours": {"instructor": school.ilse.pk},
        "cleared": {"instructor": school.ilse.pk},
    }
    for name, address in places.items():
        for role, user in users.items():
            client, at = as_user(user), f"{name} as {role}"
            before = counts()
            got = client.get(address, query.get(name, {})).status_code
            assert got == 405 or (got in (200, 302)) == (role in MATRIX[name]), f"GET {at}: {got}"
            if role not in MATRIX[name]:
                posted = client.post(
                    address,
                    {**asked, "reason": "x", "who": school.noor.pk, "say": "no", "agree": "yes"},
                ).status_code
                assert posted in (302, 403, 404, 405), f"POST {at}: {posted}"
                assert counts() == before, f"POST {at} changed something"
    assert not AuditRow.objects.exists()
    assert not OutboxMessage.objects.exists()


def test_canary_of_private_remarks_on_every_page(school: School) -> None:
    """Each note's own canary: on its author's pages only, whoever opens whatever."""
    note = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    note.private_remarks = "canary-c41e"
    note.save()
    school.booking.assessment = note
    school.booking.save()
    for who, client, address in pages_of(school):
        shown = "canary-c41e" in text_of(client.get(address))
        assert not shown or who == "instructor", f"{who} {address}"
