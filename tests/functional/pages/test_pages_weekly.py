"""Weekly places and terms as pages, without JavaScript."""

from urllib.parse import parse_qs, urlsplit

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Booking, Meeting, Offering, Term, WeeklyPlace
from tests.cast import at, make_booking, make_meeting, make_minor, make_offering, teaches
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.school.weekly import NOW, make_term

TYPED = {
    "name": "Summer 2027",
    "first_on": "2027-04-19",
    "last_on": "2027-07-09",
    "lessons_promised": "11",
}


@pytest.fixture
def lesson(school: School, hands: Hands) -> Offering:
    """A lesson of 45 minutes with Ilse, who teaches Tuesdays from 15:30, a week before the spring
    term.
    """
    hands.at = NOW
    make_term(school.dag)
    offering = make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    teaches(school.ilse, offering)
    return offering


def take(school: School, lesson: Offering, **changes: object) -> dict[str, object]:
    named = {
        "term": Term.objects.get().pk,
        "offering": lesson.pk,
        "instructor": school.ilse.pk,
        "student": school.marlo.pk,
    }
    return {**named, "weekday": 1, "wall_at": 990, **changes}


def test_a_student_finds_and_takes_a_weekly_place(school: School, lesson: Offering) -> None:
    """From the list, by the address of an option, to twelve lessons; both clocks and the shifts are
    said in words.
    """
    client = as_user(school.marlo.user)
    page = text_of(client.get("/weekly/", {"earliest": "11:00", "latest": "13:30", "weekday": 1}))
    assert "Mondays" not in page.split("Show</button>")[1]
    assert "All 12 dates." in page
    assert "From 16 March it starts at <b>12:30</b>, not 11:30." in page
    addresses = [
        part.split('"')[0].replace("&amp;", "&")
        for part in page.split('href="')[1:]
        if part.startswith("/weekly/take/")
    ]
    chosen = next(
        address for address in addresses if parse_qs(urlsplit(address).query)["wall_at"] == ["990"]
    )
    shown = text_of(client.get(chosen))
    assert "Tuesday 16 March, <b>12:30</b>" in shown
    assert "16:30 Dublin" in shown
    assert "12 of 12 lessons promised" in shown
    assert client.post("/weekly/take/", take(school, lesson)).status_code == 302
    assert Booking.objects.filter(student=school.marlo, standing="HELD").count() == 12
    after = text_of(client.get("/weekly/"))
    assert "Spring 2027: 12 lessons to come" in after


def test_a_date_that_cannot_be_had_is_given_up_knowingly(school: School, lesson: Offering) -> None:
    """Without its tick the page says which date fails and nothing is held; with it eleven lessons
    are.
    """
    make_meeting(school.consultation, school.ilse, at("2027-03-02T16:30Z"))
    client = as_user(school.marlo.user)
    shown = text_of(client.get("/weekly/take/", take(school, lesson)))
    assert "No lesson on <b>2 March</b>. That time is not free: choose another time." in shown
    refused = client.post("/weekly/take/", take(school, lesson))
    assert refused.status_code == 409
    assert "these dates are not available: 2 March" in text_of(refused)
    assert not WeeklyPlace.objects.exists()
    assert (
        client.post("/weekly/take/", take(school, lesson, without="2027-03-02")).status_code == 302
    )
    assert WeeklyPlace.objects.get().meetings.count() == 11


def test_leaving_says_what_ends_and_what_stays(
    school: School, lesson: Offering, hands: Hands
) -> None:
    """The evening before, the next lesson stands under what stays; after leaving the place is gone
    from the page.
    """
    client = as_user(school.marlo.user)
    client.post("/weekly/take/", take(school, lesson))
    hands.at = at("2027-03-29T17:00Z")
    address = f"/weekly/{WeeklyPlace.objects.get().pk}/leave/"
    stays, ends = text_of(client.get(address)).split("Lessons that are cancelled")
    assert "Tuesday 30 March, 11:30" in stays
    assert "Tuesday 6 April, 11:30" in ends
    assert client.post(address).status_code == 302
    assert Meeting.objects.filter(status="CANCELLED").count() == 1
    assert client.post(address).status_code == 409
    assert "lessons to come" not in text_of(client.get("/weekly/"))


def test_siblings_are_placed_and_moved_together(school: School, lesson: Offering) -> None:
    """TRADE scenario 24 on pages: right after the one, the other; moving the first offers the pair
    and moves both.
    """
    kit = make_minor("Kit Lindqvist-Reed", "Europe/Dublin", guardian=school.hedda)
    lark = make_minor("Lark Lindqvist-Reed", "Europe/Dublin", guardian=school.hedda)
    client = as_user(school.hedda)
    client.post("/weekly/take/", take(school, lesson, student=kit.pk))
    first = WeeklyPlace.objects.get()
    page = text_of(client.get("/weekly/", {"student": kit.pk}))
    assert f"?student={lark.pk}&amp;after={first.pk}" in page
    beside = text_of(client.get("/weekly/", {"student": lark.pk, "after": first.pk}))
    assert "Right after Kit" in beside
    assert "Tuesdays 17:30" in beside
    assert "Tuesdays 18:00" not in beside
    client.post("/weekly/take/", take(school, lesson, student=lark.pk, wall_at=1050))
    address = f"/weekly/{first.pk}/move/"
    assert 'value="1-1080-1140"' in text_of(client.get(address))
    assert client.post(address, {"to": "1-1080-1140"}).status_code == 302
    assert list(WeeklyPlace.objects.filter(ended_at=None).values_list("student", "wall_at")) == [
        (kit.pk, 1080),
        (lark.pk, 1140),
    ]
    assert client.post(address, {"to": "nowhere"}).status_code == 404


@pytest.mark.parametrize(
    ("status", "change"),
    [
        (404, {"term": 999}),
        (404, {"offering": 999}),
        (404, {"instructor": 999}),
        (422, {"weekday": 9}),
        (422, {"wall_at": 1440}),
        (404, {"wall_at": "noon"}),
        (400, {"without": "soon"}),
        (404, {"student": 999}),
    ],
)
def test_addresses_that_were_made_up(
    school: School, lesson: Offering, status: int, change: dict[str, object]
) -> None:
    """Unknown things, an eighth weekday, no time, no date: a sentence, and nothing is held."""
    assert (
        as_user(school.marlo.user).post("/weekly/take/", take(school, lesson, **change)).status_code
        == status
    )
    assert not WeeklyPlace.objects.exists()


def test_a_page_with_nothing_to_offer_says_so(school: School) -> None:
    """No term; a term and no lesson at their level; hours in which nothing is held."""
    client = as_user(school.noor.user)
    assert "No term has been published yet" in text_of(client.get("/weekly/"))
    make_term(school.dag)
    assert "Nobody teaches private lessons at level 4 yet" in text_of(client.get("/weekly/"))
    offering = make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    teaches(school.ilse, offering)
    assert "No weekly time is available this term" in text_of(
        client.get("/weekly/", {"earliest": "01:00", "latest": "03:00"})
    )


def test_an_admin_publishes_and_changes_a_term(school: School) -> None:
    """Breaks are typed a line each and come back as typed; lessons left outside are named."""
    client = as_user(school.dag)
    typed = {**TYPED, "breaks": "2027-05-31 to 2027-06-06, half-term\n3 May 2027"}
    assert client.post("/terms/", typed).status_code == 302
    page = text_of(client.get("/terms/"))
    assert "19 April 2027 to 9 July 2027, 11 lessons" in page
    assert "Break: 3 May 2027<" in page
    assert "half-term: 31 May 2027 to 6 June 2027<" in page
    term = Term.objects.get()
    shown = text_of(client.get(f"/terms/{term.pk}/"))
    assert "2027-05-03 to 2027-05-03\n2027-05-31 to 2027-06-06, half-term" in shown
    meeting = make_meeting(school.consultation, school.ilse, at("2027-05-11T15:30Z"))
    booking = make_booking(meeting, school.noor)
    meeting.weekly_place = WeeklyPlace.objects.create(
        term=term,
        student=school.noor,
        instructor=school.ilse,
        offering=school.consultation,
        weekday=1,
        wall_at=990,
        promised=1,
        time_zone="Europe/Dublin",
        policy=booking.policy,
        made_at=NOW,
    )
    meeting.save()
    changed = client.post(
        f"/terms/{term.pk}/",
        {**TYPED, "breaks": "2027-05-10 to 2027-05-16", "version": 1},
        follow=True,
    )
    assert (
        "Now outside the term and still booked: Consultation, 2027-05-11 16:30 Europe/Dublin, "
        "with Ilse Quarrow."
    ) in text_of(changed)
    assert client.post(f"/terms/{term.pk}/", {**TYPED, "version": 1}).status_code == 412


@pytest.mark.parametrize(
    "breaks",
    ["half-term", "2027-05-31 to soon", "31 Mai 2027", "2027-06-06 to 2027-05-31", "2027-01-01"],
)
def test_breaks_that_cannot_be_kept_come_back_as_typed(school: School, breaks: str) -> None:
    """Unreadable, backwards or outside the term: the line stays and no term is published."""
    response = as_user(school.dag).post("/terms/", {**TYPED, "breaks": breaks})
    assert response.status_code == 422
    assert breaks in text_of(response)
    assert not Term.objects.exists()


@pytest.mark.parametrize("year", ["0001", "1999", "2200", "9999"])
def test_a_term_of_another_age_is_a_slip_of_the_pen(
    school: School, lesson: Offering, year: str
) -> None:
    """A year that no school plans comes back as typed, rather than stopping every page that looks
    around the term.
    """
    typed = {**TYPED, "first_on": f"{year}-01-01", "last_on": f"{year}-12-31"}
    assert as_user(school.dag).post("/terms/", typed).status_code == 422
    assert Term.objects.count() == 1
