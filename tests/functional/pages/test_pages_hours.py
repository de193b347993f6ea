"""Hours I teach, as typed."""

import pytest

from bookings.models import DaysAway, ExtraHours, TeachingHours, TeachingWeek
from tests.cast import make_instructor
from tests.functional.pages.school import School, as_user, text_of


def week(version: int = 1, **days: str) -> dict[str, object]:
    return {"time_zone": "Europe/Dublin", "version": version, **days}


def test_an_instructor_publishes_their_week(school: School) -> None:
    """Seven typed lines become windows; the version rises; the page shows them again."""
    client = as_user(school.ilse.user)
    assert (
        client.post(
            "/hours/", week(day_0="9:00–12:30, 15.30 - 20:30", day_6="00:00-24:00")
        ).status_code
        == 302
    )
    hours = list(
        TeachingHours.objects.filter(week__instructor=school.ilse).values_list(
            "weekday", "opens", "closes"
        )
    )
    assert hours == [(0, 540, 750), (0, 930, 1230), (6, 0, 1440)]
    assert 'value="09:00-12:30, 15:30-20:30"' in text_of(client.get("/hours/"))


def test_a_first_week_is_published_from_nothing(school: School) -> None:
    """An instructor without a week begins at version 0."""
    tenzin = make_instructor("Tenzin Orlo", "Asia/Kathmandu")
    client = as_user(tenzin.user)
    assert "You have no weekly hours." in text_of(client.get("/hours/"))
    assert (
        client.post(
            "/hours/", {"time_zone": "Asia/Kathmandu", "version": 0, "day_2": "16:00-21:00"}
        ).status_code
        == 302
    )
    assert str(TeachingWeek.objects.get(instructor=tenzin).time_zone) == "Asia/Kathmandu"
    assert "no weekly hours" not in text_of(client.get("/hours/"))


def test_bookings_left_outside_are_listed_and_kept(school: School) -> None:
    """Shrinking the hours cancels nothing; it says what now lies outside."""
    response = as_user(school.ilse.user).post("/hours/", week(day_0="15:30-20:30"), follow=True)
    assert "Lessons outside these hours" in text_of(response)
    assert "Friday 12 March, 17:30" in text_of(response)
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"


@pytest.mark.parametrize(
    "typed",
    [
        "9am-12",
        "09:00-08:00",
        "09:00-12:00, 11:00-13:00",
        "09:02-10:00",
        "25:00-26:00",
        "nine to ten",
        "24:30-24:45",
    ],
)
def test_what_cannot_be_published_comes_back_as_typed(school: School, typed: str) -> None:
    """Unreadable, backwards, overlapping, off the five minutes: the line stays, the old week
    stands.
    """
    response = as_user(school.ilse.user).post("/hours/", week(day_0=typed))
    assert response.status_code == 422
    assert f'value="{typed}"' in text_of(response)
    assert TeachingHours.objects.filter(week__instructor=school.ilse).count() == 4


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("9-12", "09:00-12:00"),
        ("9:00 - 12", "09:00-12:00"),
        ("9.00–12.00", "09:00-12:00"),
        ("09:00-12:00, 14-18", "09:00-12:00, 14:00-18:00"),
    ],
)
def test_hours_are_read_as_people_type_them(school: School, typed: str, said: str) -> None:
    """Any dash, any spaces, minutes or none; the page shows them in one form."""
    client = as_user(school.ilse.user)
    assert client.post("/hours/", week(day_2=typed)).status_code == 302
    assert f'value="{said}"' in text_of(client.get("/hours/"))


def test_all_faults_of_a_week_are_shown_at_once_each_at_its_day(school: School) -> None:
    """One that cannot be read, one backwards, one overlap: each beside its line, which stays as
    typed.
    """
    lines = {"day_0": "noon", "day_2": "12-9", "day_4": "9-12, 11-13", "day_5": "10-11"}
    page = text_of(as_user(school.ilse.user).post("/hours/", week(**lines)))
    for name in ("day_0", "day_2", "day_4"):
        assert f'id="id_{name}_error"' in page
        assert f'href="#id_{name}"' in page
    assert 'id="id_day_5_error"' not in page
    assert all(f'value="{typed}"' in page for typed in lines.values())


def test_a_week_changed_meanwhile_is_not_overwritten(school: School) -> None:
    """The form carries the version it was read at; a newer one answers 412."""
    assert (
        as_user(school.ilse.user).post("/hours/", week(version=0, day_0="09:00-10:00")).status_code
        == 412
    )


def test_extra_hours_and_days_away_come_and_go(school: School) -> None:
    """Added by form, listed, taken back by form."""
    client = as_user(school.ilse.user)
    client.post(
        "/hours/extra/", {"extra-on": "2027-03-21", "extra-opens": "10:00", "extra-closes": "12:00"}
    )
    client.post("/hours/away/", {"away-first_on": "2027-04-01", "away-last_on": "2027-04-05"})
    page = text_of(client.get("/hours/"))
    assert "21 March 2027, 10:00 to 12:00" in page
    assert "1 April 2027 to 5 April 2027" in page
    client.post(f"/hours/extra/{ExtraHours.objects.get().pk}/remove/")
    client.post(f"/hours/away/{DaysAway.objects.get().pk}/remove/")
    assert not ExtraHours.objects.exists()
    assert not DaysAway.objects.exists()


def test_days_away_that_end_before_they_begin_are_refused_on_the_page(school: School) -> None:
    """The sentence stands on the hours page, with the form as filled."""
    response = as_user(school.ilse.user).post(
        "/hours/away/", {"away-first_on": "2027-04-05", "away-last_on": "2027-04-01"}
    )
    assert response.status_code == 422
    assert 'value="2027-04-05"' in text_of(response)


def test_nobody_changes_another_instructors_hours(school: School) -> None:
    """A student is refused, another instructor finds nothing; an admin may, naming them."""
    asked = {**week(day_0="09:00-10:00"), "instructor": school.ilse.pk}
    assert as_user(school.noor.user).post("/hours/", asked).status_code in (403, 404)
    assert as_user(school.wren.user).post("/hours/", asked).status_code == 404
    assert TeachingHours.objects.filter(week__instructor=school.ilse).count() == 4
    assert as_user(school.dag).post("/hours/", asked).status_code == 302
    assert TeachingHours.objects.filter(week__instructor=school.ilse).count() == 1


def test_the_same_extra_hours_sent_twice_are_there_once(school: School) -> None:
    """A double click changes nothing the second time, and says nothing else."""
    client = as_user(school.ilse.user)
    sent = {"extra-on": "2027-03-21", "extra-opens": "10:00", "extra-closes": "12:00"}
    assert [client.post("/hours/extra/", sent).status_code for _ in range(2)] == [302, 302]
    assert ExtraHours.objects.count() == 1
    assert TeachingWeek.objects.get(instructor=school.ilse).version == 2


def test_an_instructor_keeps_hours_whole(school: School) -> None:
    """The tick is saved with the week, shown again, and taken off with the next week."""
    client = as_user(school.ilse.user)
    client.post("/hours/", week(day_0="15:30-20:30", keeps_hours_whole="on"))
    assert TeachingWeek.objects.get(instructor=school.ilse).keeps_hours_whole
    page = text_of(client.get("/hours/"))
    assert "Keep hours whole" in page
    assert page.split('name="keeps_hours_whole"')[1].split(">")[0].count("checked") == 1
    client.post("/hours/", week(version=2, day_0="15:30-20:30"))
    assert not TeachingWeek.objects.get(instructor=school.ilse).keeps_hours_whole
