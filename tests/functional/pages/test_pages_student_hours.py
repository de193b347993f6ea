"""Hours you can come: typed, shown again as strips, and heeded by Times that suit."""

import re
from datetime import date
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse

from accounts.models import Student, User
from bookings.domain.vocabulary import Wish
from bookings.models import Booking, ExtraHours, StudentHours, StudentWeek
from tests.cast import NOW, give_account, publish, user_of
from tests.functional.pages.every_page import pages_of
from tests.functional.pages.school import School, as_user, text_of
from tests.school.weekly import weekly_place

PAGE = "/hours-to-come/"
NIGHTS = ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7))


def save(user: User, student: Student, **lines: str):
    sent = {"student": student.pk, "version": "", **lines}
    return as_user(user).post(PAGE, sent)


def every_day(student: Student, wish: Wish, opens: int = 0, closes: int = 1440) -> None:
    """The family has said this of these hours, every day."""
    week, _ = StudentWeek.objects.update_or_create(
        student=student, defaults={"is_confirmed": True, "version": 1, "changed_at": NOW}
    )
    week.windows.all().delete()
    StudentHours.objects.bulk_create(
        StudentHours(week=week, weekday=day, opens=opens, closes=closes, wish=wish)
        for day in range(7)
    )


def test_lines_are_kept_as_typed_and_shown_again(school: School) -> None:
    """As loosely typed as teaching hours, and shown in one form."""
    noor = user_of(school.noor)
    response = save(noor, school.noor, gladly_0="16-18, 19:00 to 20.30", never_6="0-24")
    assert response.url == f"{PAGE}?student={school.noor.pk}"
    rows = StudentHours.objects.values_list("weekday", "opens", "closes", "wish")
    assert set(rows) == {(0, 960, 1080, "gladly"), (0, 1140, 1230, "gladly"), (6, 0, 1440, "never")}
    page = as_user(noor).get(PAGE).content.decode()
    assert 'value="16:00-18:00, 19:00-20:30"' in page
    assert 'value="00:00-24:00"' in page


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ({"gladly_0": "16-18", "never_0": "17-19"}, "choose one word for each hour"),
        ({"gladly_0": "18-16"}, "choose an end after the start"),
        ({"last_3": "22-6"}, "past midnight takes two windows"),
        ({"possible_1": "in the evening"}, "cannot be read"),
        ({"gladly_0": "24-25"}, "choose times from 00:00 to 24:00"),
        ({"school": "8-12, 13-15"}, "Write one stretch"),
        ({"school": "15-8"}, "choose an end after the start"),
    ],
)
def test_a_line_that_cannot_be_kept_says_why_at_its_place(school: School, lines, words) -> None:
    """What was typed is still there, and nothing is saved."""
    response = save(user_of(school.noor), school.noor, **lines)
    page = response.content.decode()
    assert response.status_code == 422
    assert words in text_of(response)
    assert all(f'value="{typed}"' in page for typed in lines.values())
    assert not StudentWeek.objects.exists()


def test_a_page_that_is_out_of_date_saves_nothing(school: School) -> None:
    """The form is bound to the version it showed: 412."""
    noor = user_of(school.noor)
    save(noor, school.noor, gladly_0="16-18")
    response = save(noor, school.noor, version="0", gladly_0="9-10")
    assert response.status_code == 412
    assert StudentHours.objects.get().opens == 960


def test_a_guardian_finds_the_usual_hours_filled_in_and_confirms_them(school: School) -> None:
    """Posy is 10: school, and the evening from 20:30 (common practice)."""
    client = as_user(school.hedda)
    response = client.get(PAGE)
    assert "Nobody has filled this in yet." in text_of(response)
    assert response.content.decode().count('value="20:30-24:00"') == 7
    assert 'value="08:00-15:30"' in response.content.decode()
    evenings = {f"never_{day}": "20:30-24:00" for day in range(7)}
    save(school.hedda, school.posy, school="08:00-15:30", **evenings)
    week = StudentWeek.objects.get()
    assert (week.school, week.is_confirmed, week.windows.count()) == ((480, 930), True, 7)
    assert "Until a guardian saves this page" not in text_of(client.get(PAGE))


def test_a_child_s_own_words_wait_for_a_guardian(school: School) -> None:
    """The guardian’s page says so."""
    child = give_account(school.posy)
    save(child, school.posy, gladly_5="9-12")
    assert "A guardian has not confirmed these hours yet." in text_of(
        as_user(school.hedda).get(PAGE)
    )


def test_hours_marked_never_are_listed_only_when_asked_for(school: School) -> None:
    """A link lists them, among the hours that suit less."""
    every_day(school.noor, Wish.NEVER, 0, 1435)
    client, week = as_user(school.noor.user), "/times/?since=2027-03-12"
    page = client.get(week)
    assert "/times/book/" not in page.content.decode()
    assert "Hours marked “never” are not listed." in text_of(page)
    page = client.get(f"{week}&never=on")
    assert "/times/book/" in page.content.decode()
    assert "at hours that suit less" in text_of(page)


def wanted(school: School) -> dict[str, object]:
    return {
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": "2027-03-15T16:00:00Z",
        "student": school.noor.pk,
    }


def test_an_hour_marked_never_is_booked_after_one_more_question(school: School) -> None:
    """Without the tick nothing is booked, and what was written is kept."""
    every_day(school.noor, Wish.NEVER)
    client, before = as_user(school.noor.user), Booking.objects.count()
    shown = client.get(f"/times/book/?{urlencode(wanted(school))}")
    assert "An hour marked “never”." in text_of(shown)
    asked = client.post("/times/book/", wanted(school))
    assert asked.status_code == 422
    assert "Tick this box, or choose another time." in text_of(asked)
    assert Booking.objects.count() == before
    assert client.post("/times/book/", {**wanted(school), "knowingly": "on"}).status_code == 302
    assert Booking.objects.count() == before + 1


def test_an_hour_marked_never_is_moved_to_after_one_more_question(school: School) -> None:
    """Without the tick the lesson stays where it is."""
    every_day(school.noor, Wish.NEVER)
    client, path = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/move/"
    to = {name: wanted(school)[name] for name in ("instructor", "starts_at")}
    assert "An hour marked “never”." in text_of(client.get(f"{path}?{urlencode(to)}"))
    assert client.post(path, to).status_code == 422
    assert client.post(path, {**to, "knowingly": "on"}).status_code == 302


def test_a_weekly_time_at_an_hour_marked_never_is_taken_after_one_more_question(
    school: School,
) -> None:
    """Without the tick the place is not taken."""
    place = weekly_place(school.ilse, school.noor)
    every_day(school.noor, Wish.NEVER)
    sent = {
        "student": school.noor.pk,
        "term": place.term_id,
        "offering": place.offering_id,
        "instructor": school.ilse.pk,
        "weekday": 1,
        "wall_at": 1140,
    }
    client = as_user(school.noor.user)
    response = client.post("/weekly/take/", sent)
    assert response.status_code == 422
    assert "An hour marked “never”." in text_of(response)
    assert "Tick this box" not in text_of(client.post("/weekly/take/", {**sent, "knowingly": "on"}))


def test_the_best_come_from_later_days_where_these_have_only_night(school: School) -> None:
    """Ilse teaches from 05:00 in Dublin, 01:00 in New York, and once at 11:00 in New York."""
    school.ilse.week.windows.all().delete()
    publish(school.ilse, "0 05:00-09:00")
    client, week = as_user(school.noor.user), "/times/?since=2027-03-12"
    best = best_of(text_of(client.get(week)))
    assert "01:00" in best
    ExtraHours.objects.create(
        instructor=school.ilse,
        on=date(2027, 3, 25),
        opens=900,
        closes=930,
        time_zone="Europe/Dublin",
    )
    best = best_of(text_of(client.get(week)))
    assert "Thursday 25 March, 11:00" in best
    assert "01:00" not in best


def best_of(page: str) -> str:
    return page.split('class="best"')[1].split("</aside>")[0]


def test_canary_in_the_hours_a_family_says_is_on_no_instructor_s_page(school: School) -> None:
    """Each page reads the same, as long as the words change nothing in which starts are offered:
    night is last, and hours marked “never” are left out.
    """
    pages = [(client, path) for who, client, path in pages_of(school) if who == "instructor"]
    before = {path: unsealed(client.get(path)) for client, path in pages}
    every_day(school.noor, Wish.POSSIBLE, 540, 1200)
    for client, path in pages:
        assert unsealed(client.get(path)) == before[path], path


def unsealed(response: HttpResponse) -> str:
    """The page without the secrets of its forms, which are others each time."""
    return re.sub(r'value="[\w-]{30,}"', "", text_of(response))


def test_an_admin_reads_and_changes_the_hours_and_an_instructor_does_not(school: School) -> None:
    """To an instructor there is no such page."""
    every_day(school.noor, Wish.LAST, 600, 660)
    path = f"{PAGE}?student={school.noor.pk}"
    assert 'value="10:00-11:00"' in as_user(school.dag).get(path).content.decode()
    assert as_user(school.ilse.user).get(path).status_code == 404
    assert save(school.dag, school.noor, version="1").status_code == 302
    assert save(school.ilse.user, school.noor, gladly_0="9-10").status_code == 404
