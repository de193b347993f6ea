"""What was typed stays in the form that is refused, and the same form sent twice acts once."""

import pytest

from bookings.models import MoveRequest, OutboxMessage, Term
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

TERM = {
    "name": "Spring 2028",
    "first_on": "2028-01-10",
    "last_on": "2028-03-31",
    "lessons_promised": "10",
    "breaks": "2028-02-14 to 2028-02-20, half-term",
}


@pytest.mark.parametrize(
    ("address", "typed", "kept"),
    [
        (
            "/hours/extra/",
            {"extra-on": "2027-03-21", "extra-opens": "12", "extra-closes": "9"},
            ['value="2027-03-21"', 'value="12"', 'value="9"'],
        ),
        (
            "/hours/away/",
            {"away-first_on": "2027-04-05", "away-last_on": "2027-04-01"},
            ['value="2027-04-05"', 'value="2027-04-01"'],
        ),
        ("/hours/room/", {"room": "not an address"}, ['value="not an address"']),
        (
            "/hours/room/",
            {"room": "https://rooms.rowanmere.example/new", "seen": "https://elsewhere.example/"},
            ['value="https://rooms.rowanmere.example/new"'],
        ),
        (
            "/busy-calendars/",
            {"busy-name": "Choir", "busy-address": "http://calendar.rowanmere.example/a.ics"},
            ['value="Choir"', 'value="http://calendar.rowanmere.example/a.ics"'],
        ),
        ("/calendars/", {"label": "Phone " * 20}, ["Phone Phone"]),
    ],
)
def test_a_refused_form_of_an_instructor_keeps_what_was_typed(
    school: School, address: str, typed: dict[str, str], kept: list[str]
) -> None:
    """Whether a field cannot be read or a rule says no."""
    response = as_user(school.ilse.user).post(address, typed)
    assert response.status_code in (409, 412, 422)
    assert [words for words in kept if words not in text_of(response)] == []


def test_a_refused_wish_for_another_time_keeps_what_was_typed(school: School) -> None:
    """A time that has passed, and one that cannot be read."""
    client, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/ask/"
    for on, at in (("2027-02-01", "17:30"), ("2027-03-17", "half past")):
        page = text_of(client.post(address, {"on": on, "at": at}))
        assert f'value="{on}"' in page
        assert f'value="{at}"' in page


def test_a_refused_term_keeps_what_was_typed(school: School) -> None:
    """A break outside the term, by a rule; breaks that cannot be read, by the form."""
    client = as_user(school.dag)
    for breaks in ("2029-02-14, outside", "half-term"):
        response = client.post("/terms/", {**TERM, "breaks": breaks})
        assert response.status_code in (409, 422)
        assert 'value="Spring 2028"' in text_of(response)
        assert breaks in text_of(response)


def test_the_same_form_sent_twice_acts_once(school: School) -> None:
    """A wish for another time, a term and a room: the second time nothing is written or sent."""
    noor, dag, ilse = (as_user(user) for user in (school.noor.user, school.dag, school.ilse.user))
    asked = f"/my-lessons/{school.booking.pk}/ask/"
    room = {"room": "https://rooms.rowanmere.example/new", "seen": school.ilse.room}
    for client, address, form in (
        (noor, asked, {"on": "2027-03-16", "at": "13:00"}),
        (dag, "/terms/", TERM),
        (ilse, "/hours/room/", room),
    ):
        assert client.post(address, form).status_code == 302
        sent = OutboxMessage.objects.count()
        client.post(address, form)
        assert OutboxMessage.objects.count() == sent
    assert (MoveRequest.objects.count(), Term.objects.count()) == (1, 1)
