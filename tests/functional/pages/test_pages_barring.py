"""A guardian is barred and let in again on the pages, and meets nothing of the child meanwhile."""

from datetime import timedelta

import pytest
from django.test import Client

from accounts.models import Guardianship, Student, User
from bookings.domain.vocabulary import Standing
from bookings.models import Booking
from bookings.operations.subscriptions import open_feed
from bookings.queries.people import Group, counts
from tests.cast import NOW, at, make_booking, make_meeting, make_minor, make_user
from tests.functional.pages.school import School, as_user, text_of

WHY = "The court has decided so; see the file."


@pytest.fixture
def row(school: School) -> Guardianship:
    """Hedda's guardianship of Posy, for whom Tarn answers too."""
    school.posy.guardianships.create(
        guardian=make_user("Tarn Reed"), consent_at=NOW, consent_wording="2026-11"
    )
    return school.hedda.guardianships.get()


def bar(school: School, row: Guardianship) -> None:
    page = f"/people/guardians/{row.pk}/bar/"
    assert as_user(school.dag).post(page, {"why": WHY}).status_code == 302


def lesson_of(school: School, child: Student) -> Booking:
    meeting = make_meeting(school.consultation, school.wren, at("2027-03-12T09:30Z"))
    return make_booking(meeting, child)


def feed_of(user: User) -> str:
    _, secret = open_feed(actor=user, label="Phone", names_children=True, now=NOW)
    return f"/calendar/{secret}.ics"


def test_an_admin_bars_and_lifts_on_the_pages(school: School, row: Guardianship) -> None:
    """From the student's page, where the reason is read afterwards; each page leads to the other
    once its act is done.
    """
    dag, page = as_user(school.dag), f"/people/guardians/{row.pk}/"
    student = f"/people/students/{school.posy.pk}/"
    assert f"{page}bar/" in text_of(dag.get(student))
    shown = text_of(dag.get(f"{page}bar/"))
    assert "Bar Hedda Lindqvist-Reed as a guardian of Posy?" in shown
    assert dag.get(f"{page}lift/").url == f"{page}bar/"
    assert dag.post(f"{page}bar/", {"why": " "}).status_code == 422
    assert WHY in text_of(dag.post(f"{page}bar/", {"why": WHY}, follow=True))
    assert dag.get(f"{page}bar/").url == f"{page}lift/"
    assert dag.post(f"{page}bar/", {"why": WHY}).status_code == 409
    assert WHY in text_of(dag.get(f"{page}lift/"))
    assert WHY not in text_of(dag.post(f"{page}lift/", follow=True))
    again = dag.post(f"{page}lift/", follow=True)  # by a second press
    assert again.status_code == 200
    assert "They are not barred." in text_of(again)
    row.refresh_from_db()
    assert row.barred_at is None


def test_nobody_but_admins_reads_the_reason(school: School, row: Guardianship) -> None:
    """Neither the family nor the child's instructor."""
    lesson = lesson_of(school, school.posy)
    bar(school, row)
    tarn = User.objects.get(name="Tarn Reed")
    pages = ["/me/", "/my-lessons/", "/times/", "/weekly/", f"/my-lessons/{lesson.pk}/cancel/"]
    for user in (tarn, school.hedda, school.wren.user):
        for page in [*pages, f"/brief/{lesson.pk}/", f"/meetings/{lesson.meeting_id}/"]:
            assert WHY not in text_of(as_user(user).get(page)), page


def test_what_ends_with_the_consent_is_said_and_confirmed(school: School) -> None:
    """The second guardian has not consented; the page lists the lesson, and it ends only once that
    is ticked.
    """
    school.posy.guardianships.create(guardian=make_user("Tarn Reed"))
    row, lesson = school.hedda.guardianships.get(), lesson_of(school, school.posy)
    dag, page = as_user(school.dag), f"/people/guardians/{row.pk}/bar/"
    assert "Posy: Consultation with Wren Halloway" in text_of(dag.get(page))
    assert dag.post(page, {"why": WHY}).status_code == 409
    assert dag.post(page, {"why": WHY, "end": "yes"}).status_code == 302
    lesson.refresh_from_db()
    assert (lesson.standing, lesson.ended_why) == (Standing.ENDED, "called-off")


def test_the_last_guardian_stays_until_another_is_there(school: School) -> None:
    """The page says whom to invite first, and keeps the reason that was typed."""
    page = f"/people/guardians/{school.hedda.guardianships.get().pk}/bar/"
    answer = as_user(school.dag).post(page, {"why": WHY})
    assert answer.status_code == 409
    shown = text_of(answer)
    assert "Nobody else answers for Posy. Invite another guardian first." in shown
    assert WHY in shown


def test_other_roles_of_the_guardian_are_told(school: School) -> None:
    """A bar is about the guardian; whoever teaches or runs the school goes on."""
    for user, said in (
        (school.ilse.user, "They are also an instructor."),
        (school.dag, "They are also an admin"),
    ):
        row = school.posy.guardianships.create(guardian=user)
        shown = text_of(as_user(school.dag).get(f"/people/guardians/{row.pk}/bar/"))
        assert said in shown


def test_every_page_of_the_child_is_gone(school: School, row: Guardianship) -> None:
    """By old links and by a browser that was about the child: as if there were no guardianship."""
    hedda, lesson = as_user(school.hedda), lesson_of(school, school.posy)
    pages = [
        f"/my-lessons/{lesson.pk}/cancel/",
        f"/my-lessons/{lesson.pk}/intake/",
        f"/my-lessons/?student={school.posy.pk}",
        f"/me/consents/{row.pk}/",
        f"/me/consents/{row.pk}/withdraw/",
    ]
    for page in pages:
        assert hedda.get(page).status_code == 200, page
    bar(school, row)
    for page in pages:
        answer = hedda.get(page)
        assert answer.status_code in (403, 404), page
        assert "Posy" not in text_of(answer)
        assert hedda.post(page, {"agree": "yes"}).status_code in (403, 404, 405), page
    for page in ("/", "/me/", "/meetings/", "/calendars/"):
        assert "Posy" not in text_of(hedda.get(page, follow=True)), page


def test_the_old_feed_loses_the_child_at_once(school: School, row: Guardianship) -> None:
    """A feed of other children goes on; without one it is empty, and still a calendar, so that the
    program removes what it holds. The tag of before brings the new bytes.
    """
    lark = make_minor("Lark Lindqvist-Reed", guardian=school.hedda)
    lesson_of(school, school.posy)
    theirs = make_meeting(school.consultation, school.ilse, at("2027-03-13T09:30Z"))
    make_booking(theirs, lark)
    address = feed_of(school.hedda)
    before = Client().get(address)
    assert b"Posy" in before.content and b"Lark" in before.content
    bar(school, row)
    after = Client().get(address, headers={"If-None-Match": before["ETag"]})
    assert after.status_code == 200
    assert b"Posy" not in after.content and b"Lark" in after.content
    lark.guardianships.create(
        guardian=make_user("Rue Reed"), consent_at=NOW, consent_wording="2026-11"
    )
    bar(school, lark.guardianships.get(guardian=school.hedda))
    empty = Client().get(address, headers={"If-None-Match": after["ETag"]})
    assert (empty.status_code, b"VEVENT" in empty.content) == (200, False)


def test_a_waiting_offer_is_the_other_guardian_s(school: School, row: Guardianship) -> None:
    """The barred guardian takes nothing; whoever stays accepts it."""
    group = make_meeting(school.circle.offering, school.wren, at("2027-03-12T08:30Z"), places=4)
    offer = make_booking(
        group, school.posy, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=20)
    )
    bar(school, row)
    page = f"/my-lessons/{offer.pk}/answer/"
    assert as_user(school.hedda).post(page, {"say": "yes"}).status_code == 404
    tarn = as_user(User.objects.get(name="Tarn Reed"))
    assert tarn.post(page, {"say": "yes"}).status_code == 302
    offer.refresh_from_db()
    assert offer.standing == Standing.HELD


def test_a_minor_with_barred_guardians_alone_is_flagged(school: School, row: Guardianship) -> None:
    """On the lists of people and on the student's page: a barred guardian answers for nobody."""
    Guardianship.objects.filter(student=school.posy).update(barred_at=NOW, barred_why=WHY)
    assert counts(now=NOW)[Group.MINORS_ALONE] == 1
    page = text_of(as_user(school.dag).get(f"/people/students/{school.posy.pk}/"))
    assert "A minor without a guardian." in page
