"""The pages of people who have just joined: what is missing, and where to write it."""

from accounts.models import Instructor
from bookings.models import ExtraHours, Term
from tests.cast import make_instructor
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.set_up import publish_a_term

NO_HOURS = "You have no hours yet, so nobody can book a lesson with you."
NO_ROOM = "Your lessons have no address to join at yet."
NOTHING = "Nothing is waiting for you."


def newcomer() -> Instructor:
    """As a welcome makes them: no hours, no room."""
    tenzin = make_instructor("Tenzin Orlo", "Asia/Kathmandu")
    Instructor.objects.filter(pk=tenzin.pk).update(room="")
    return tenzin


def test_today_leads_a_new_instructor_to_their_hours_and_their_room(school: School) -> None:
    """Until both are there; then nothing waits."""
    tenzin = newcomer()
    client = as_user(tenzin.user)
    page = text_of(client.get("/today/"))
    assert NO_HOURS in page
    assert NO_ROOM in page
    assert NOTHING not in page
    assert 'href="/hours/"' in page.partition("<main")[2]
    assert 'href="/hours/#room"' in page
    assert 'id="room"' in text_of(client.get("/hours/"))
    client.post("/hours/", {"time_zone": "Asia/Kathmandu", "version": 0, "day_2": "15:00-20:00"})
    client.post("/hours/room/", {"room": "https://rooms.rowanmere.example/tenzin"})
    page = text_of(client.get("/today/"))
    assert NO_HOURS not in page
    assert NO_ROOM not in page
    assert NOTHING in page


def test_extra_hours_alone_are_hours(school: School) -> None:
    """Lessons can be booked in them, as the page Setting up counts them."""
    tenzin = newcomer()
    ExtraHours.objects.create(
        instructor=tenzin, on="2027-03-06", opens=600, closes=660, time_zone="Asia/Kathmandu"
    )
    assert NO_HOURS not in text_of(as_user(tenzin.user).get("/today/"))


def test_days_away_do_not_count_as_published_hours(school: School) -> None:
    """Whoever begins with days away is still told that nobody can book."""
    tenzin = newcomer()
    client = as_user(tenzin.user)
    away = {"away-first_on": "2027-03-10", "away-last_on": "2027-03-10"}
    page = text_of(client.post("/hours/away/", away, follow=True))
    assert "You have no weekly hours. Students can book once the week is published." in page


def test_a_week_says_when_it_changed_last_whatever_changed(school: School) -> None:
    """Days away change what is offered, and are no publication of the week."""
    client = as_user(school.ilse.user)
    away = {"away-first_on": "2027-04-10", "away-last_on": "2027-04-10"}
    page = text_of(client.post("/hours/away/", away, follow=True))
    assert "Last changed Monday 1 March, 09:00 (Dublin)." in page


def test_an_account_without_lessons_counts_nothing(school: School) -> None:
    """One sentence, and no list of noughts."""
    publish_a_term()
    page = text_of(
        as_user(school.noor.user).get(f"/terms/{Term.objects.get().pk}/accounts/{school.noor.pk}/")
    )
    assert "No lessons in this term." in page
    assert "Of these 0 lessons" not in page
    assert "Forfeited" not in page
