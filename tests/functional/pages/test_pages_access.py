"""Who reaches which page: every route of the pages is in the matrix, and no page shows a private remark to anybody but its author."""

from datetime import timedelta

import pytest
from django.urls import URLPattern

from accounts.models import Student, User, Welcome
from bookings.models import (
    AuditRow,
    BusyCalendar,
    ExtraHours,
    Feed,
    MoveRequest,
    Offering,
    OutboxMessage,
    Term,
)
from bookings.pages.urls import urlpatterns
from tests.cast import NOW, make_assessment, make_user
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.test_pages_markup import counts, pages_of
from tests.weekly_school import weekly_place

pytestmark = pytest.mark.one_database

STUDENT, OTHER, GUARDIAN, TEACHER, FOREIGN, ADMIN = (
    "student",
    "other student",
    "guardian",
    "instructor",
    "foreign instructor",
    "admin",
)
GROWN, REMOVED = "guardian of a grown child", "removed guardian"
LEARNERS = {STUDENT, OTHER, GUARDIAN}
ONCE_GUARDIANS = {GROWN, REMOVED}
EVERYBODY = {*LEARNERS, TEACHER, FOREIGN, ADMIN, *ONCE_GUARDIANS}

# route -> who is let through; the objects are the student's, taught by the instructor.
MATRIX = {
    "home": EVERYBODY,
    "me": EVERYBODY,
    "answer-zone": EVERYBODY,
    "calendars": EVERYBODY,
    "busy-calendars": {*LEARNERS, TEACHER, FOREIGN},
    "remove-busy-calendar": {STUDENT},
    "refresh-busy-calendar": {STUDENT},
    "meetings": EVERYBODY,
    "people": {ADMIN},
    "wording": {ADMIN},
    "withdraw-invitation": {ADMIN},
    "account": {ADMIN},
    "admin-role": {ADMIN},
    "close-account": {ADMIN},
    "reopen-account": {ADMIN},
    "dismiss": {ADMIN},
    "teach-again": {ADMIN},
    "new-student": {ADMIN},
    "student": {ADMIN},
    "student-leaves": {ADMIN},
    "student-returns": {ADMIN},
    "remove-guardian": {ADMIN},
    "give-consent": {GUARDIAN},
    "withdraw-consent": {GUARDIAN},
    "reset-second-factor": {ADMIN},
    "times": LEARNERS,
    "why": {STUDENT, ADMIN},
    "book": {STUDENT, ADMIN},
    "my-lessons": LEARNERS,
    "ask-for-consent": {STUDENT, ADMIN},
    "weekly": LEARNERS,
    "take-weekly": {STUDENT, ADMIN},
    "leave-weekly": {STUDENT, ADMIN},
    "move-weekly": {STUDENT, ADMIN},
    "terms": {ADMIN},
    "term": {ADMIN},
    "move": {STUDENT, ADMIN},
    "ask-to-move": {STUDENT, ADMIN},
    "change-meeting": {STUDENT, ADMIN},
    "cancel": {STUDENT, ADMIN},
    "intake": {STUDENT, ADMIN},
    "answer": {STUDENT, ADMIN},
    "assessment": {STUDENT, TEACHER},
    "rewrite": {TEACHER},
    "release": {TEACHER},
    "adopt-level": {TEACHER},
    "hours": {TEACHER, ADMIN},
    "add-extra-hours": {TEACHER, ADMIN},
    "remove-extra-hours": {TEACHER, ADMIN},
    "go-away": {TEACHER, ADMIN},
    "come-back": {TEACHER, ADMIN},
    "reinstate-days": {TEACHER, ADMIN},
    "change-room": {TEACHER, ADMIN},
    "hours-file": {TEACHER, ADMIN},
    "propose-hours": {TEACHER, ADMIN},
    "adopt-hours": {TEACHER, ADMIN},
    "brief": {TEACHER},
    "write-assessment": {TEACHER},
    "new-meeting": {ADMIN},
    "meeting": {*LEARNERS, TEACHER, ADMIN},
    "change-group-meeting": {TEACHER, ADMIN},
    "take-place": {STUDENT, ADMIN},
    "waiting-list": {STUDENT, ADMIN},
    "register": {TEACHER, ADMIN},
    "change-roster": {ADMIN},
    "call-off": {TEACHER, ADMIN},
    "reinstate": {TEACHER, ADMIN},
    "move-requests": {TEACHER, FOREIGN, ADMIN},
    "answer-move-request": {TEACHER, ADMIN},
    "renew-feed": {STUDENT},
    "revoke-feed": {STUDENT},
}
BY_SECRET = {"welcome", "consent"}  # opened by whoever holds the letter: test_pages_people


def test_authorisation_matrix_names_every_page(db: None) -> None:
    """A new route without a row here fails the build."""
    names = {route.name for route in urlpatterns if isinstance(route, URLPattern)}
    assert names == set(MATRIX) | BY_SECRET


def addresses(school: School) -> dict[str, str]:
    note = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    feed = Feed.objects.create(
        owner=school.noor.user, label="Phone", secret_digest="x", revised_at=NOW, opened_at=NOW
    )
    extra = ExtraHours.objects.create(
        instructor=school.ilse, on=NOW.date(), opens=600, closes=660, time_zone="Europe/Dublin"
    )
    away = school.ilse.days_away.create(
        first_on=NOW.date(), last_on=NOW.date(), time_zone="Europe/Dublin"
    )
    ids = {
        "booking_id": school.booking.pk,
        "note_id": note.pk,
        "meeting_id": school.circle.pk,
        "feed_id": feed.pk,
    }
    place = weekly_place(school.ilse, school.noor)
    ids |= {"place_id": place.pk, "term_id": place.term_id}
    calendar = BusyCalendar.objects.create(
        owner=school.noor.user, name="Orchestra", host="calendar.rowanmere.example", added_at=NOW
    )
    ids |= {"calendar_id": calendar.pk}
    asked = MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=NOW + timedelta(days=9),
        sequence=0,
        asked_at=NOW,
    )
    ids |= {"request_id": asked.pk}
    ids |= {"extra_id": extra.pk, "away_id": away.pk}
    invited = Welcome.objects.create(
        email="ida@rowanmere.example",
        name="Ida Quince",
        as_admin=True,
        secret_digest="w",
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    ids |= {"welcome_id": invited.pk, "user_id": school.wren.user_id, "student_id": school.noor.pk}
    ids |= {"guardianship_id": school.posy.guardianships.get().pk}
    found = {}
    for route in urlpatterns:
        if route.name in MATRIX:
            path = str(route.pattern)
            for name, pk in ids.items():
                path = path.replace(f"<int:{name}>", str(pk))
            found[route.name] = f"/{path}"
    found["reinstate"] = f"/meetings/{school.called_off().pk}/reinstate/"
    return found


def once_guardians(student: Student) -> dict[str, User]:
    """Two who answered for the student: one until the student, who has an account, came of age, and
    one who was removed.
    """
    grown, removed = make_user("Orsola Reed"), make_user("Hester Vale")
    student.adult_on = NOW.date() - timedelta(days=28)
    student.save()
    student.guardianships.create(guardian=grown)
    student.guardianships.create(guardian=removed).delete()
    return {GROWN: grown, REMOVED: removed}


def test_authorisation_matrix_of_the_pages(school: School) -> None:
    """GET and POST of every route as every role: let through where the matrix says so; elsewhere refused, and nothing changes."""
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
        "why": {**asked, "on": "2027-03-15"},
        "take-weekly": {**asked, **term},
        "hours": {"instructor": school.ilse.pk},
        "hours-file": {"instructor": school.ilse.pk},
        "reinstate-days": {"instructor": school.ilse.pk},
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
