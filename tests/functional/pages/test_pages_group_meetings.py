"""Group meetings as a family reads them: for whom, at what hour, and no button that would be
refused at once.
"""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind
from bookings.models import Booking, Meeting
from tests.cast import (
    NOW,
    at,
    make_booking,
    make_meeting,
    make_minor,
    make_offering,
    make_student,
    make_user,
    user_of,
)
from tests.functional.pages.school import School, as_user, text_of

BUTTONS = ("Book a place", "Book a listener place", "Join the waiting list")


def shown(school: School, user: User | None, student: Student) -> tuple[str, str]:
    """The list and the meeting's own page, as a reader sees them for that student."""
    client, asked = as_user(user), {"student": student.pk}
    pages = ("/meetings/", f"/meetings/{school.circle.pk}/")
    one, other = (text_of(client.get(page, asked)).partition("<main")[2] for page in pages)
    return one, other


def test_the_list_says_kind_levels_and_both_clocks(school: School) -> None:
    """11:00 in New York is 16:00 in Dublin; a weekday stands where it is another one."""
    school.circle.lowest_level, school.circle.highest_level = 3, 5
    school.circle.save()
    late = make_offering("Slow airs together", Kind.MASTERCLASS, 60)
    make_meeting(late, school.ilse, at("2027-03-15T02:00Z"), title="Late airs", places=4)
    for page in shown(school, school.noor.user, school.noor)[:1]:
        assert "Group meeting, levels 3 to 5." in page
        assert "11:00 to 12:00" in page
        assert "16:00 to 17:00 Dublin" in page
        assert "Masterclass, Slow airs together, levels 1 to 10." in page
        assert "Monday, 02:00 to 03:00 Dublin" in page
    assert "Group meeting, levels 3 to 5." in shown(school, school.noor.user, school.noor)[1]


def test_a_meeting_at_night_is_said_to_be_one(school: School) -> None:
    """16:00 UTC is 03:00 in Sydney: said there, and to nobody whose day it is."""
    for page in shown(school, school.hedda, school.posy):
        assert "This is at night for Posy: 03:00-04:00." in page
    for page in shown(school, school.noor.user, school.noor):
        assert "at night" not in page


def by_level(school: School) -> Student:
    school.circle.lowest_level, school.circle.highest_level = 6, 8
    school.circle.save()
    return school.marlo


def without_consent(school: School) -> Student:
    ines = make_user("Ines Fell")
    return make_minor("Kit Fell", "Europe/Dublin", guardian=ines, consent=False)


def by_hour(school: School) -> Student:
    return school.posy


def by_own_lesson(school: School) -> Student:
    meeting = make_meeting(school.consultation, school.wren, at("2027-03-13T16:30Z"))
    make_booking(meeting, school.marlo)
    return school.marlo


def by_own_teaching(school: School) -> Student:
    Instructor.objects.create(user=user_of(school.marlo))
    make_meeting(school.consultation, school.marlo.user.instructor, at("2027-03-13T16:30Z"))
    return school.marlo


def by_own_place(school: School) -> Student:
    make_booking(school.circle, school.marlo)
    return school.marlo


CASES: list[tuple[Callable[[School], Student], str]] = [
    (without_consent, "No guardian’s consent is on file for Kit."),
    (by_hour, "A student under 18 is taught between 08:00 and 21:00"),
    (by_own_lesson, "Marlo already has a lesson or meeting at that time"),
    (by_own_teaching, "Marlo already has a lesson or meeting at that time"),
    (by_own_place, "Marlo already has a place in this meeting."),
]


@pytest.mark.parametrize(("case", "why"), CASES)
def test_no_button_is_shown_that_would_be_refused(
    school: School, case: Callable[[School], Student], why: str
) -> None:
    """The reason stands in its place, in the words of the rule; and the rule refuses indeed."""
    school.circle.places = school.circle.listener_places = 3
    school.circle.save()
    student = case(school)
    user = student.user or student.guardianships.get().guardian
    for page in shown(school, user, student):
        assert page.replace("&#x27;", "'").count(why) == 1
        assert not any(button in page for button in BUTTONS)
    count = Booking.objects.count()
    address = f"/meetings/{school.circle.pk}/place/"
    for kind in ("player", "listener"):
        answer = as_user(user).post(address, {"student": student.pk, "as": kind})
        assert answer.status_code in (409, 422)
    assert Booking.objects.count() == count


def test_a_student_of_another_level_may_listen_and_not_play(school: School) -> None:
    """The reason stands where the player place would be booked; the listener place is offered."""
    school.circle.listener_places = 3
    school.circle.save()
    student = by_level(school)
    for page in shown(school, student.user, student):
        assert "Players here are at levels 6 to 8, and Marlo is at level 4" in page
        assert "levels 6 to 8 for players; listeners may be at any level." in page
        assert "Book a listener place" in page
        assert "Book a place" not in page
    marlo, address = as_user(student.user), f"/meetings/{school.circle.pk}/place/"
    assert marlo.post(address, {"as": "player"}).status_code == 409
    assert marlo.post(address, {"as": "listener"}).status_code == 302


def test_every_button_that_is_shown_does_what_it_says(school: School) -> None:
    """A free place is booked; of a full meeting the waiting list is joined, at the hour of another
    lesson too."""
    marlo = as_user(school.marlo.user)
    assert "Book a place" in shown(school, school.marlo.user, school.marlo)[0]
    make_booking(school.circle, school.noor)
    by_own_lesson(school)
    page = shown(school, school.marlo.user, school.marlo)[0]
    assert "Every place is taken." in page
    assert "Join the waiting list" in page
    assert marlo.post(f"/meetings/{school.circle.pk}/waiting-list/").status_code == 302
    assert (
        "Marlo is on the waiting list, first."
        in shown(school, user_of(school.marlo), school.marlo)[0]
    )


def test_an_admin_places_a_student_of_any_level(school: School) -> None:
    """The band is for families: who runs the school knows the student."""
    by_level(school)
    asked = {"who": school.marlo.pk, "reason": "knows the piece"}
    address = f"/meetings/{school.circle.pk}/roster/"
    assert as_user(school.dag).post(address, asked).status_code == 302


def test_an_instructor_with_a_child_finds_the_childs_group_meetings(school: School) -> None:
    """Behind a link on the meetings they run."""
    kit = make_minor("Kit Quarrow", "Europe/Dublin", guardian=school.ilse.user)
    ilse = as_user(school.ilse.user)
    assert f'href="?student={kit.pk}"' in text_of(ilse.get("/meetings/"))
    assert "Book a place" in text_of(ilse.get("/meetings/", {"student": kit.pk}))


def test_the_list_is_paged_and_asks_as_often_for_one_meeting_as_for_sixty(school: School) -> None:
    """Queries do not grow with the meetings, nor with who is in them."""
    noor, found = as_user(school.noor.user), []
    for count in (1, 60):
        for number in range(count):
            start = at("2027-04-01T16:00Z") + timedelta(days=number + count)
            meeting = make_meeting(school.group, school.wren, start, title="Airs", places=2)
            make_booking(meeting, make_student(f"Ada {number}"))
        with CaptureQueriesContext(connection) as seen:
            page = text_of(noor.get("/meetings/"))
        found.append(len(seen))
    assert found[0] == found[1] <= 12
    assert page.count('<section class="lesson">') == 20
    assert "Later meetings" in page
    assert Meeting.objects.filter(starts_at__gt=NOW).count() > 60
