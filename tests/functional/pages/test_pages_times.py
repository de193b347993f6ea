"""Times that suit, and booking one, without JavaScript."""

import re

import pytest

from bookings.models import Booking, Meeting, OutboxMessage
from tests.cast import at, make_instructor, make_minor, make_user, publish, teaches
from tests.functional.pages.booking import ask_to_book
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

WEEK = "/times/?since=2027-03-12&instructor={}"


def test_the_week_shows_both_clocks_across_the_american_change(school: School) -> None:
    """Monday 11:00 in Dublin is 07:00 in New York once American clocks have moved; the 23-hour
    Sunday says so in words.
    """
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    assert "Clocks change in New York: this day has 23 hours." in page
    assert "From now on Dublin is 4 hours ahead, not 5 hours." in page
    monday = page.split('id="d2027-03-15"')[1].split("</section>")[0]
    assert re.findall(r">(\d\d:\d\d)</time>", monday)[0] == "07:00"
    assert "11:00 Dublin" in monday


def test_the_days_ahead_are_dates_on_the_reader_s_clock(school: School, hands: Hands) -> None:
    """At 22:00 in New York the next afternoon is tomorrow, though less than 24 hours away."""
    hands.at = at("2027-03-12T03:00Z")
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    for on, said in (("12", "Tomorrow."), ("15", "In 4 days.")):
        day = page.split(f'id="d2027-03-{on}"')[1].split("</section>")[0]
        assert set(re.findall(r"Today\.|Tomorrow\.|In \d+ days?\.|Within 24", day)) == {said}


def test_a_day_without_a_free_start_says_nothing_free(school: School) -> None:
    """Saturday has no teaching hours."""
    page = text_of(as_user(school.noor.user).get(WEEK.format(school.ilse.pk)))
    assert "Nothing free." in page.split('id="d2027-03-13"')[1].split("</section>")[0]


def test_times_between_two_hours_of_the_day(school: School) -> None:
    """A student who asks for 12:00 to 14:00 gets meetings that lie inside it, on their clock."""
    page = text_of(
        as_user(school.noor.user).get(WEEK.format(school.ilse.pk) + "&earliest=12:00&latest=14:00")
    )
    monday = page.split('id="d2027-03-15"')[1].split("</section>")[0]
    assert re.findall(r">(\d\d:\d\d)</time>", monday) == ["12:00", "12:30", "13:00", "13:30"]


def test_the_wrong_order_of_times_is_said_beside_the_field(school: School) -> None:
    """An end before the beginning is a message with a link to the field, not an empty week."""
    response = as_user(school.noor.user).get(
        WEEK.format(school.ilse.pk) + "&earliest=14:00&latest=12:00"
    )
    assert response.status_code == 422
    assert 'href="#id_latest"' in text_of(response)


def test_a_repeated_hour_is_told_apart(school: School, hands: Hands) -> None:
    """On 7 November 2027 01:00 to 02:00 happens twice in New York; both are listed, with their
    abbreviations (scenario 4).
    """
    hands.at = at("2027-11-01T09:00Z")
    publish(school.wren, "6 01:00-02:00")
    page = text_of(
        as_user(school.noor.user).get(f"/times/?since=2027-11-07&instructor={school.wren.pk}")
    )
    sunday = page.split('id="d2027-11-07"')[1].split("</section>")[0]
    assert re.findall(r">(\d\d:\d\d \w+)</time>", sunday) == [
        "01:00 EDT",
        "01:30 EDT",
        "01:00 EST",
        "01:30 EST",
    ]


@pytest.mark.parametrize(
    "odd",
    [
        "since=9999-12-31",
        "since=x",
        "offering=999999",
        "instructor=x",
        "earliest=25:00",
        "student=x",
    ],
)
def test_odd_addresses_are_answered_calmly(school: School, odd: str) -> None:
    """What makes no sense is a page that says so, never a crash."""
    assert as_user(school.noor.user).get(f"/times/?{odd}").status_code in (200, 404, 422)


def test_the_booking_page_names_both_clocks_and_the_last_instant_to_cancel(school: School) -> None:
    """24 elapsed hours before Monday 12:00 in New York, across the change, is Sunday 12:00 (TRADE:
    notice printed as an instant).
    """
    page = text_of(
        as_user(school.noor.user).get("/times/book/", ask_to_book(school, "2027-03-15T16:00:00Z"))
    )
    assert "Monday 15 March, <b>12:00</b>" in page
    assert "Monday 15 March, <b>16:00</b>" in page
    assert "Sunday 14 March, 12:00</time> (New York)" in page


def test_a_student_books_and_the_invitation_is_queued(school: School) -> None:
    """One POST: a booking, its intake in order, an invitation for them and one for the instructor,
    and a redirect.
    """
    asked = ask_to_book(
        school,
        "2027-03-15T16:00:00Z",
        question_1="Why does the fourth finger fold?",
        question_2="Tempo?",
        recordings="a\nb",
    )
    response = as_user(school.noor.user).post("/times/book/", asked)
    assert response.status_code == 302
    assert response.url == "/my-lessons/"
    booking = Booking.objects.get(starts_at=at("2027-03-15T16:00Z"))
    assert booking.intake.questions == ["Why does the fourth finger fold?", "Tempo?"]
    assert booking.intake.recordings == ["a", "b"]
    assert OutboxMessage.objects.filter(meeting=booking.meeting, kind="invitation").count() == 2


def test_a_form_sent_twice_books_once(school: School) -> None:
    """The second POST finds its own booking and says booked, too."""
    client, asked = as_user(school.noor.user), ask_to_book(school, "2027-03-15T16:00:00Z")
    assert [client.post("/times/book/", asked).status_code for _ in range(2)] == [302, 302]
    assert Booking.objects.filter(starts_at=at("2027-03-15T16:00Z")).count() == 1


def test_the_slower_of_two_keeps_their_form_and_sees_three_near_times(school: School) -> None:
    """Scenario 7, the second half: refused with 409, what they wrote still there, three near starts
    to choose from.
    """
    asked = {
        **ask_to_book(school, "2027-03-12T17:30:00Z"),
        "student": school.marlo.pk,
        "obstacle": "My left hand hurries",
    }
    response = as_user(school.marlo.user).post("/times/book/", asked)
    page = text_of(response)
    assert response.status_code == 409
    assert 'value="My left hand hurries"' in page
    near = re.findall(r'name="start" value="([^"]+)"', page)
    assert len(near) == 3
    again = {**asked, "start": near[0].replace("&#x27;", "'")}
    assert as_user(school.marlo.user).post("/times/book/", again).status_code == 302
    assert Booking.objects.get(student=school.marlo).intake.obstacle == "My left hand hurries"


def test_opening_a_time_that_has_gone_says_so_before_the_form_is_filled(school: School) -> None:
    """GET changes nothing and does not promise what is taken."""
    page = text_of(
        as_user(school.marlo.user).get(
            "/times/book/", {**ask_to_book(school, "2027-03-12T17:30:00Z"), "student": ""}
        )
    )
    assert "not free any more" in page
    assert Booking.objects.count() == 1


def test_a_guardian_books_for_a_child_on_the_childs_clock(school: School) -> None:
    """Scenario 5: 09:00 Dublin is 20:00 in Sydney, inside a minor's hours, so it is offered; 20:00
    Dublin is not.
    """
    publish(school.wren, "4 09:00-10:00, 4 20:00-21:00", "Europe/Dublin")
    page = text_of(
        as_user(school.hedda).get(f"/times/?since=2027-03-05&instructor={school.wren.pk}")
    )
    assert "Posy’s clock, Sydney" in page
    assert "09:00 Dublin" in page
    assert "20:00 Dublin" not in page


def test_a_minor_without_consent_is_refused_and_their_guardian_asked_once(school: School) -> None:
    """Scenario 6: nothing is held, and one request leaves however often one tries."""
    guardian = make_user("Ines Fell", "Europe/Dublin")
    kit = make_minor("Kit Fell", "Europe/Dublin", guardian=guardian, consent=False)
    asked = {**ask_to_book(school, "2027-03-15T16:00:00Z"), "student": kit.pk}
    for _ in range(2):
        response = as_user(guardian).post("/times/book/", asked)
        assert response.status_code == 409
    assert not Booking.objects.filter(student=kit).exists()
    assert OutboxMessage.objects.filter(kind="consent").count() == 1


def test_nobody_books_for_somebody_elses_child(school: School) -> None:
    """Not yours looks like not there, and nothing is written."""
    asked = {**ask_to_book(school, "2027-03-15T16:00:00Z"), "student": school.posy.pk}
    assert as_user(school.noor.user).post("/times/book/", asked).status_code == 404
    assert Meeting.objects.count() == 2


@pytest.mark.parametrize(
    "starts_at",
    ["", "tomorrow", "2027-03-15T16:00:00", "2027-03-15T16:03:00Z", "1999-01-01T00:00:00Z"],
)
def test_starts_that_cannot_be_are_refused(school: School, starts_at: str) -> None:
    """No time, no offset, off the grid, long past: each an answer in the 400s, nothing booked."""
    response = as_user(school.noor.user).post("/times/book/", ask_to_book(school, starts_at))
    assert 400 <= response.status_code < 500
    assert Booking.objects.count() == 1


def test_long_and_strange_text_is_kept_out(school: School) -> None:
    """Control characters are stripped; text that is too long comes back with a message and the rest
    of the form.
    """
    asked = ask_to_book(
        school, "2027-03-15T16:00:00Z", question_1="a\x00b\x9fc\u2028d", obstacle="x" * 501
    )
    response = as_user(school.noor.user).post("/times/book/", asked)
    assert response.status_code == 422
    assert 'href="#id_obstacle"' in text_of(response)
    as_user(school.noor.user).post("/times/book/", {**asked, "obstacle": ""})
    assert Booking.objects.latest("pk").intake.questions == ["abc d"]


def test_half_an_hour_of_clock_change_is_said(school: School, hands: Hands) -> None:
    """Lord Howe Island moves its clocks by 30 minutes on 4 April 2027 (tz database)."""
    bram = make_instructor("Bram Tolliver", "Australia/Lord_Howe")
    teaches(bram, school.consultation)
    publish(bram, "6 09:00-12:00")
    hands.at = at("2027-03-28T09:00Z")
    page = text_of(as_user(school.hedda).get(f"/times/?since=2027-04-04&instructor={bram.pk}"))
    assert "Clocks change in Sydney: this day has 25 hours." in page
    assert "From now on Lord Howe is 30 minutes ahead, not on the same time." in page
