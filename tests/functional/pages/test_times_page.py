"""Times that suit as it opens: humane hours folded by day, filters, the few best, and the
allowance.
"""

import html
import re
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from django.test import Client

from bookings.domain.burden import HARD, burden
from bookings.domain.timeline import Period
from bookings.queries.slots import near
from tests.cast import at, make_booking, make_instructor, make_meeting, publish, teaches
from tests.functional.api.client import Api
from tests.functional.pages.conftest import Hands
from tests.functional.pages.large import add_instructors
from tests.functional.pages.school import School, as_user, text_of

WEEK = "/times/?since=2027-03-12"
NIGHTS = ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7))


def starts(page: str) -> set[tuple[int, str]]:
    """(instructor, start) of every start that a page leads to."""
    found = set()
    for address in re.findall(r'href="(/times/book/[^"]+)"', page):
        (value,) = parse_qs(urlsplit(html.unescape(address)).query)["start"]
        instructor, _, starts_at = value.partition("@")
        found.add((int(instructor), starts_at))
    return found


def ask_api(school: School, **asked: object) -> dict[str, Any]:
    """GET slots of consultations, by Noor, on their clock."""
    named = {"offering": school.consultation.pk, "time_zone": "America/New_York", **asked}
    answer: dict[str, Any] = Api(school.noor.user).get(f"slots/?{urlencode(named)}").json
    return answer


def day_of(page: str, on: str) -> str:
    return page.split(f'id="d{on}"')[1].split("</section>")[0]


def read(client: Client, address: str) -> str:
    return text_of(client.get(address))


@pytest.fixture
def all_day(school: School) -> School:
    """Wren teaches around the clock in New York, where Noor lives."""
    publish(school.wren, NIGHTS)
    return school


def test_the_page_opens_on_seven_folded_days(all_day: School) -> None:
    """Each day is closed and says in a word how many starts of the humane hours it holds, and from
    when to when.
    """
    page = read(as_user(all_day.noor.user), f"{WEEK}&instructor={all_day.wren.pk}")
    friday = day_of(page, "2027-03-12")
    assert "<details open" not in page.split('id="starts"')[1]
    said = re.sub(r"<[^>]+>", "", re.findall(r"<summary>(.*?)</summary>", friday, re.DOTALL)[0])
    assert " ".join(said.split()) == "Friday 12 March: 29 starts between 07:00 and 21:30"
    assert page.count('<section class="day"') == 7


def test_night_and_far_hours_are_folded_behind_a_word(all_day: School) -> None:
    """What costs as much as night stands in a fold of its own inside the day, and nothing else
    does.
    """
    page = read(as_user(all_day.noor.user), f"{WEEK}&instructor={all_day.wren.pk}")
    tuesday = day_of(page, "2027-03-16")
    listed, far = tuesday.split("very early, very late or at night")
    for part, is_far in ((listed, False), (far.split("Why these suit")[0], True)):
        for _, starts_at in starts(part):
            lesson = Period(at(starts_at), at(starts_at) + timedelta(minutes=25))
            assert (burden(lesson, "America/New_York") >= HARD) is is_far, starts_at
    assert starts(listed)
    assert starts(far)


def test_the_page_tells_the_same_as_the_api(all_day: School) -> None:
    """One start for each instant that GET slots offers in these seven days, by one of those who are
    offered then.
    """
    add_instructors(all_day, 3)
    client = as_user(all_day.noor.user)
    page = read(client, f"{WEEK}&far=on")
    thursday = "?far=on&amp;since=2027-03-18"
    assert thursday in day_of(page, "2027-03-18")  # more starts than one page lists
    page += day_of(read(client, f"/times/{html.unescape(thursday)}"), "2027-03-18")
    offered: set[tuple[int, datetime]] = set()
    since: str | None = "2027-03-12"
    while since is not None:
        asked = {"from": since, "to": "2027-03-19", "limit": 500, "night": "include"}
        answer = ask_api(all_day, **asked)
        offered |= {(row["instructor"]["id"], at(row["starts_at"])) for row in answer["results"]}
        since = answer["next_from"]
    shown = {(who, at(start)) for who, start in starts(page)}
    assert shown <= offered
    assert {start for _, start in shown} == {start for _, start in offered}


def test_filters_by_part_of_the_day_and_instructor(all_day: School) -> None:
    """An evening with Wren: only lessons from 17:00 on, only Wren's."""
    client = as_user(all_day.noor.user)
    page = read(client, f"{WEEK}&part=evening&instructor={all_day.wren.pk}")
    found = starts(page)
    assert {who for who, _ in found} == {all_day.wren.pk}
    clocks = re.findall(r"<time>(\d\d):\d\d</time>", page)
    assert min(clocks) == "17"
    both = read(client, f"{WEEK}&part=afternoon&earliest=16:00&instructor={all_day.wren.pk}")
    assert set(re.findall(r"<time>(\d\d:\d\d)</time>", both)) == {"16:00", "16:30"}
    none = client.get(f"{WEEK}&part=morning&earliest=16:00")
    assert none.status_code == 422
    assert 'href="#id_part"' in text_of(none)


def test_other_clocks_name_their_weekday_where_it_differs(school: School) -> None:
    """Friday 21:00 in New York is Saturday in Kathmandu; noon in New York is the same day in
    Dublin.
    """
    asha = make_instructor("Asha Larkspur", "Asia/Kathmandu")
    teaches(asha, school.consultation)
    publish(asha, "5 07:00-09:00")
    page = read(as_user(school.noor.user), f"{WEEK}&instructor={asha.pk}")
    assert "Saturday 07:00 Kathmandu" in day_of(page, "2027-03-12")
    dublin = read(as_user(school.noor.user), f"{WEEK}&instructor={school.ilse.pk}")
    assert "Friday 15:30 Dublin" not in dublin
    assert "15:30 Dublin" in dublin


def test_an_empty_window_is_said_once(school: School) -> None:
    """Nothing between 03:00 and 05:00: one sentence with the way out, and no day says it again."""
    page = read(as_user(school.noor.user), f"{WEEK}&earliest=03:00&latest=05:00")
    assert page.count("Nothing is free between 03:00 and 05:00 in these seven days.") == 1
    assert "Nothing free." not in page
    assert 'href="?since=2027-03-12">Show every hour of the day' in page
    some = read(as_user(school.noor.user), f"{WEEK}&part=morning")
    assert some.count("Nothing is free before 12:00 on Saturday 13 March, Sunday 14 March") == 1


def test_the_other_instructors_of_a_start_are_counted_and_found_on_its_page(school: School) -> None:
    """Two can teach on Friday at 11:00: one row says "or 1 other", and the booking page leads to
    the other.
    """
    publish(school.wren, "4 11:00-12:00")
    client = as_user(school.noor.user)
    friday = day_of(read(client, WEEK), "2027-03-12")
    assert friday.count("<time>11:00</time>") == 1
    assert "or 1 other" in friday
    address = next(
        html.unescape(found)
        for found in re.findall(r'href="(/times/book/[^"]+T16:00:00Z)"', friday)
    )
    page = read(client, address)
    assert "1 other instructor can teach you then" in page
    assert ("Wren Halloway" in page) and ("Ilse Quarrow" in page)
    student = f"student={school.noor.pk}"
    theirs = read(as_user(school.dag), address.replace(student, f"student={school.marlo.pk}"))
    assert "1 other instructor can teach Marlo then" in theirs


def test_the_allowance_is_said_before_a_start_is_chosen(school: School) -> None:
    """One of two is used: the page says which, with a way to it, and still offers starts."""
    page = read(as_user(school.noor.user), WEEK)
    assert "You can have 2 consultations booked at once." in page
    assert f"#lesson-{school.booking.pk}" in page
    assert starts(page)
    lessons = read(as_user(school.noor.user), "/my-lessons/")
    assert f'id="lesson-{school.booking.pk}"' in lessons


def test_a_used_allowance_offers_no_start_that_would_be_refused(school: School) -> None:
    """Both are used: no start is listed, neither here nor as a near one of a refused booking."""
    meeting = make_meeting(school.consultation, school.ilse, at("2027-03-16T16:00Z"))
    make_booking(meeting, school.noor)
    client = as_user(school.noor.user)
    page = read(client, WEEK)
    assert starts(page) == set()
    assert "No more can be booked now." in page
    asked = {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "start": f"{school.ilse.pk}@2027-03-15T16:00:00Z",
    }
    for answer in (client.get("/times/book/", asked), client.post("/times/book/", asked)):
        told = text_of(answer)
        assert "2 consultations can be booked at once" in told
        assert 'name="start"' not in told
        assert "No other time nearby" not in told


def test_the_refused_start_is_none_of_the_near_ones(school: School, hands: Hands) -> None:
    """A start that is free when near ones are looked for, given back or refused for another reason,
    is not named.
    """
    wanted = at("2027-03-15T16:00Z")
    found = near(
        offering=school.consultation,
        student=school.noor,
        starts_at=wanted,
        now=hands.at,
        instructor_id=school.ilse.pk,
    )
    begins = [slot.starts_at for slot in found.slots]
    assert begins == [wanted + timedelta(minutes=minutes) for minutes in (-30, 30, 60)]


def test_moving_offers_other_times_by_the_same_filters(school: School) -> None:
    """The present time is none of them, with no filter and with one; the form asks for a part of
    the day.
    """
    client, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/move/"
    page = read(client, address)
    assert "2027-03-12T18:00:00Z" in page
    assert f"start={school.ilse.pk}@2027-03-12T17:30:00Z" not in page
    for name in ("instructor", "part", "since", "earliest", "latest"):
        assert f'name="{name}"' in page
    mornings = read(client, f"{address}?part=morning")
    assert set(re.findall(r"<time>(\d\d):", mornings)) <= {f"{hour:02}" for hour in range(12)}
    told = ask_api(
        school, **{"moving": school.booking.pk, "from": "2027-03-12", "to": "2027-03-13"}
    )
    offered = {at(row["starts_at"]) for row in told["results"]}
    assert offered
    assert school.booking.starts_at not in offered
