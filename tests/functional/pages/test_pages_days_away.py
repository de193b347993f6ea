"""Days away: shown before anything is called off, agreed to as shown, and reinstated when they are
taken back.
"""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Booking, DaysAway, Meeting, OutboxMessage
from tests.cast import NOW, at, make_booking, make_meeting, make_offering
from tests.functional.pages.clearing import ADDRESS, confirmed, form_of
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

DAYS = {"away-first_on": "2027-03-12", "away-last_on": "2027-03-13"}
WHY = "Ilse travels."


def agreed(school: School) -> dict[str, str]:
    """The form of the preview, with a reason and the emails read."""
    client = as_user(school.ilse.user)
    form = form_of(text_of(client.post("/hours/away/", DAYS)))
    return form_of(text_of(client.post(ADDRESS, {**form, "why": WHY})))


def test_days_away_over_lessons_show_names_times_and_who_is_told_and_write_nothing(
    school: School,
) -> None:
    """Noor's lesson and Posy's place in the circle: by name, on the instructor's clock, and a
    guardian is told for Posy.
    """
    make_booking(school.circle, school.posy)
    page = text_of(as_user(school.ilse.user).post("/hours/away/", DAYS))
    assert "Noor Ashgrove" in page
    assert "17:30" in page
    assert "Posy" in page
    assert "a guardian of Posy" in page
    assert school.hedda.name not in page
    assert not DaysAway.objects.exists()
    assert not OutboxMessage.objects.exists()
    assert Booking.objects.filter(standing="HELD").count() == 2


def test_an_admin_reads_which_guardian_is_told(school: School) -> None:
    """By name, and for whom."""
    make_booking(school.circle, school.posy)
    sent = {**DAYS, "instructor": school.ilse.pk}
    page = text_of(as_user(school.dag).post("/hours/away/", sent))
    assert f"{school.hedda.name}, for {school.posy.full_name}" in page


def test_what_the_preview_showed_is_called_off_once_it_is_confirmed(school: School) -> None:
    """The lesson and the circle end, with the reason that was typed; a second press changes
    nothing.
    """
    client, form = as_user(school.ilse.user), agreed(school)
    assert confirmed(client, form).status_code == 302
    assert confirmed(client, form).status_code == 412
    school.booking.refresh_from_db()
    assert school.booking.ended_why == "called-off"
    assert set(Meeting.objects.values_list("status", "called_off_why")) == {("CANCELLED", WHY)}
    assert DaysAway.objects.count() == 1


@pytest.mark.parametrize(
    "where", ["in the same meeting", "in another meeting", "one of them is cancelled"]
)
def test_what_came_meanwhile_is_shown_before_it_is_called_off(school: School, where: str) -> None:
    """One who books after the preview was read is not called off unseen: it asks again, and keeps
    the reason.
    """
    client, form = as_user(school.ilse.user), agreed(school)
    if where == "in the same meeting":
        make_booking(school.circle, school.marlo)
    elif where == "in another meeting":
        late = make_meeting(school.consultation, school.ilse, at("2027-03-12T19:00Z"))
        make_booking(late, school.marlo)
    else:
        Booking.objects.filter(pk=school.booking.pk).update(
            standing="ENDED", ended_at=NOW, ended_why="cancelled-in-time"
        )
    asked = confirmed(client, form)
    page = text_of(asked)
    assert asked.status_code == 412
    assert f'value="{WHY}"' in page
    assert ("Marlo Vance" in page) is (where != "one of them is cancelled")
    assert not DaysAway.objects.exists()
    assert not Meeting.objects.filter(status="CANCELLED").exists()
    assert confirmed(client, form_of(page)).status_code == 302
    assert not Meeting.objects.exclude(status="CANCELLED").exists()


def test_days_away_over_nothing_are_added_at_once(school: School) -> None:
    """Nothing to decide; sent twice, they are there once."""
    client = as_user(school.ilse.user)
    days = {"away-first_on": "2027-04-01", "away-last_on": "2027-04-05"}
    for _ in range(2):
        assert client.post("/hours/away/", days).status_code == 302
    assert DaysAway.objects.count() == 1


def test_taking_days_away_back_asks_first_and_offers_to_reinstate(
    school: School, hands: Hands
) -> None:
    """GET changes nothing; afterwards each meeting called off for these days is listed, and no
    other.
    """
    other = make_meeting(
        make_offering("Studio class", Kind.GROUP_MEETING),
        school.ilse,
        at("2027-03-12T10:00Z"),
        title="Called off before",
        status="CANCELLED",
    )
    hands.at = NOW + timedelta(hours=1)
    client = as_user(school.ilse.user)
    confirmed(client, agreed(school))
    away = DaysAway.objects.get()
    asked = client.get(f"/hours/away/{away.pk}/remove/")
    assert "2 meetings were called off for these days" in text_of(asked)
    assert DaysAway.objects.exists()
    response = client.post(f"/hours/away/{away.pk}/remove/", follow=True)
    page = text_of(response)
    assert not DaysAway.objects.exists()
    for meeting in (school.booking.meeting, school.circle):
        assert f"/meetings/{meeting.pk}/reinstate/" in page
    assert f"/meetings/{other.pk}/reinstate/" not in page
    assert "Friday 12 March, 17:30</time>, Dublin: Noor Ashgrove" in page
    again = response.redirect_chain[-1][0]
    version = Meeting.objects.get(pk=school.booking.meeting_id).version
    client.post(f"/meetings/{school.booking.meeting_id}/reinstate/", {"version": version})
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"
    assert "Booked again." in text_of(client.get(again))


def test_what_cannot_be_reinstated_says_why(school: School, hands: Hands) -> None:
    """Its time has come meanwhile."""
    client = as_user(school.ilse.user)
    confirmed(client, agreed(school))
    removed = client.post(f"/hours/away/{DaysAway.objects.get().pk}/remove/")
    hands.at = at("2027-03-12T18:00Z")
    page = text_of(client.get(removed["Location"]))
    assert "It cannot be reinstated: The time of this meeting has passed" in page


def test_nobody_lists_the_meetings_of_another_instructor(school: School) -> None:
    """Ids that are not theirs show nothing."""
    school.called_off()
    ids = ",".join(str(meeting.pk) for meeting in Meeting.objects.all())
    page = text_of(as_user(school.wren.user).get(f"/hours/away/reinstate/?meetings={ids}"))
    assert "Placing without looking" not in page
    assert as_user(school.noor.user).get("/hours/away/reinstate/").status_code == 403


def test_removing_extra_hours_asks_first(school: School) -> None:
    """GET says what is removed and changes nothing; POST removes."""
    client = as_user(school.ilse.user)
    client.post(
        "/hours/extra/", {"extra-on": "2027-03-21", "extra-opens": "10", "extra-closes": "12"}
    )
    extra = school.ilse.extra_hours.get()
    page = text_of(client.get(f"/hours/extra/{extra.pk}/remove/"))
    assert "Remove the extra hours of 21 March 2027, 10:00-12:00 (Dublin)?" in page
    assert school.ilse.extra_hours.exists()
    assert client.post(f"/hours/extra/{extra.pk}/remove/").status_code == 302
    assert not school.ilse.extra_hours.exists()
