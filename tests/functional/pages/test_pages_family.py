"""My lessons of a whole family: who is next, how to join, what is left to book."""

import re
from datetime import timedelta

from bookings.models import Booking
from tests.cast import at, make_booking, make_meeting, make_minor
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of


def lessons(school: School) -> str:
    """Hedda's page with one space for every stretch of white space."""
    return re.sub(r"\s+", " ", text_of(as_user(school.hedda).get("/my-lessons/")))


def with_two_children(school: School) -> tuple[Booking, Booking]:
    """Kit at 16:00 and Posy at 16:30 on Monday 8 March, both with Ilse."""
    kit = make_minor("Kit Lindqvist-Reed", "Europe/London", guardian=school.hedda, level=1)
    first, second = (
        make_booking(make_meeting(school.consultation, school.ilse, at(f"2027-03-08T{hour}Z")), who)
        for hour, who in (("16:00", kit), ("16:30", school.posy))
    )
    return first, second


def test_the_next_lesson_of_the_family_is_on_top_with_its_room(
    school: School, hands: Hands
) -> None:
    """Whichever child the page is about, the next to begin comes first, with a plain link."""
    first, _ = with_two_children(school)
    page = lessons(school)
    assert page.index("Kit: Consultation, Monday 8 March") < page.index('class="plain kin"')
    assert 'class="go" href="https://rooms.rowanmere.example/ilse"' in page
    hands.at = first.starts_at - timedelta(minutes=18)
    assert "Kit: Consultation, in 18 minutes" in lessons(school)
    hands.at = first.starts_at
    assert "Kit: Consultation, now" in lessons(school)
    hands.at = first.ends_at
    assert "Posy: Consultation, in 5 minutes" in lessons(school)


def test_every_child_has_their_allowance_and_a_way_to_book(school: School) -> None:
    """Two may be open at once; each child's next lesson names its clock."""
    with_two_children(school)
    make_booking(
        make_meeting(school.consultation, school.ilse, at("2027-03-09T16:30Z")), school.posy
    )
    page = lessons(school)
    assert "Consultations booked: 1 of 2." in page
    assert "Consultations booked: 2 of 2. You can book the next one" in page
    assert "next Tuesday 9 March, 03:30 (Sydney)" in page
    assert f'href="/times/?student={school.posy.pk}">Choose a time for Posy</a>' in page


def test_a_place_on_offer_is_not_the_next_lesson(school: School) -> None:
    """Nobody is told a room before they have said yes."""
    make_booking(school.circle, school.posy, standing="OFFERED", answer_by=at("2027-03-12T00:00Z"))
    page = lessons(school)
    assert 'class="go"' not in page
    assert "Nothing is booked" not in page
    assert "Consultations booked: 0 of 2." in page


def test_a_student_alone_has_no_list_of_a_family(school: School) -> None:
    """One line: what is booked, and a way to book."""
    page = text_of(as_user(school.noor.user).get("/my-lessons/"))
    assert "Consultations booked: 1 of 2." in page
    assert ">Choose a time</a>" in page
    assert "Your family" not in page
