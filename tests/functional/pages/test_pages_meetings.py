"""Meetings: a student's place and rank; the roster, the register, calling off; the brief and what
is written after.
"""

import re
from datetime import timedelta

from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.models import AuditRow, Booking, Mark, Meeting, WaitingPlace
from tests.cast import NOW, at, make_booking, make_meeting, make_student
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of


def test_a_student_books_the_last_place_and_the_next_one_waits(school: School) -> None:
    """One place: the first books it, the second joins the line and sees their rank, the freed place
    is offered to them.
    """
    noor, marlo, address = (
        as_user(school.noor.user),
        as_user(school.marlo.user),
        f"/meetings/{school.circle.pk}/",
    )
    assert "1 of 1 places is free" in text_of(noor.get("/meetings/"))
    assert noor.post(address + "place/", {"student": school.noor.pk}).status_code == 302
    assert "Every place is taken" in text_of(marlo.get(address))
    assert marlo.post(address + "place/").status_code == 409
    assert marlo.post(address + "waiting-list/").status_code == 302
    assert "waiting list, first" in text_of(marlo.get("/meetings/"))
    booking = Booking.objects.get(meeting=school.circle)
    assert noor.post(f"/my-lessons/{booking.pk}/cancel/").status_code == 302
    assert "Offered to you until" in text_of(marlo.get(address))


def test_leaving_the_waiting_list(school: School) -> None:
    """Off the line again, by their own hand."""
    make_booking(school.circle, school.noor)
    marlo, address = as_user(school.marlo.user), f"/meetings/{school.circle.pk}/waiting-list/"
    marlo.post(address)
    marlo.post(address, {"then": "leave"})
    assert not WaitingPlace.objects.filter(ended_at__isnull=True).exists()


def test_in_the_last_hours_the_first_yes_has_the_place(school: School, hands: Hands) -> None:
    """Inside four hours nothing is offered: whoever waits sees a button to take the free place."""
    WaitingPlace.objects.create(meeting=school.circle, student=school.marlo, joined_at=NOW)
    marlo, address = as_user(school.marlo.user), f"/meetings/{school.circle.pk}/"
    assert "Book a place" not in text_of(marlo.get(address))
    hands.at = school.circle.starts_at - timedelta(hours=3)
    assert "Book a place" in text_of(marlo.get(address))
    assert marlo.post(address + "place/").status_code == 302


def test_roster_and_register(school: School, hands: Hands) -> None:
    """The roster names who is in; from the start it is the register, and marking again corrects."""
    booking = make_booking(school.circle, school.noor)
    ilse, address = as_user(school.ilse.user), f"/meetings/{school.circle.pk}/"
    assert "Noor Ashgrove, level 4" in text_of(ilse.get(address))
    mark = {f"mark-{booking.pk}": "LATE"}
    assert ilse.post(address + "register/", mark).status_code == 409
    hands.at = school.circle.starts_at
    assert ilse.post(address + "register/", mark).status_code == 302
    assert ilse.post(
        address + "register/",
        {f"mark-{booking.pk}": "PRESENT", "mark-x": "LATE", "mark-9": "dancing"},
    ).status_code in (
        302,
        404,
    )
    assert ilse.post(address + "register/", {f"mark-{booking.pk}": "PRESENT"}).status_code == 302
    assert Mark.objects.get().attendance == "PRESENT"


def test_a_minors_surname_is_not_on_an_instructors_roster(school: School) -> None:
    """Scenario 6: no other family or teacher sees their surname; an admin does."""
    make_booking(school.circle, school.posy)
    address = f"/meetings/{school.circle.pk}/"
    assert "Lindqvist-Reed" not in text_of(as_user(school.ilse.user).get(address))
    assert "Posy Lindqvist-Reed" in text_of(as_user(school.dag).get(address))


def test_an_admin_adds_and_removes_with_a_reason_that_is_kept(school: School) -> None:
    """Without a reason nothing happens; with one the audit holds it."""
    dag, address = as_user(school.dag), f"/meetings/{school.circle.pk}/roster/"
    assert dag.post(address, {"who": school.noor.pk, "reason": " "}).status_code == 422
    assert (
        dag.post(address, {"who": school.noor.pk, "reason": "asked by telephone"}).status_code
        == 302
    )
    booking = Booking.objects.get(meeting=school.circle, standing=Standing.HELD)
    assert dag.post(address, {"booking": booking.pk, "reason": "moves away"}).status_code == 302
    assert list(AuditRow.objects.filter(why__isnull=False).values_list("verb", "why__text")) == [
        ("removed", "moves away"),
        ("booked", "asked by telephone"),
    ]
    assert (
        dag.post(address, {"booking": school.booking.pk, "reason": "elsewhere"}).status_code == 404
    )


def test_a_roster_page_that_is_out_of_date_changes_nothing(school: School, hands: Hands) -> None:
    """Who removes, passes over those who wait or marks has seen what stands there; a free place is
    given out all the same.
    """
    school.circle.places = 3
    school.circle.save()
    booking = make_booking(school.circle, school.noor)
    dag, address = as_user(school.dag), f"/meetings/{school.circle.pk}/"
    shown = dag.get(address, {"find": "marlo"}).content.decode()
    read = re.findall(r'name="version" value="(\d+)"', shown)
    assert len(read) == 2
    assert as_user(make_student("Imogen Sorrel").user).post(address + "place/").status_code == 302
    old, why = {"version": read[0]}, {"reason": "asked by telephone"}
    assert dag.post(address + "roster/", {"booking": booking.pk} | old | why).status_code == 412
    assert (
        dag.post(
            address + "roster/", {"who": school.marlo.pk, "ahead": "yes"} | old | why
        ).status_code
        == 412
    )
    assert dag.post(address + "roster/", {"who": school.marlo.pk} | old | why).status_code == 302
    hands.at = school.circle.starts_at
    mark = {f"mark-{booking.pk}": "LATE"}
    refused = dag.post(address + "register/", mark | old)
    assert (refused.status_code, "Read it again" in text_of(refused)) == (412, True)
    (now,) = re.findall(r'name="version" value="(\d+)"', dag.get(address).content.decode())
    assert dag.post(address + "register/", mark | {"version": now}).status_code == 302


def test_calling_off_tells_who_is_in_and_shows_everywhere(school: School) -> None:
    """GET counts who is told; POST cancels; the student's page says called off, with the reason."""
    make_booking(school.circle, school.noor)
    ilse, address = as_user(school.ilse.user), f"/meetings/{school.circle.pk}/call-off/"
    assert "1 place is taken" in text_of(ilse.get(address))
    assert ilse.post(address, {"why": "Ilse is ill"}).status_code == 302
    page = text_of(as_user(school.noor.user).get("/my-lessons/"))
    assert "called off. Ilse is ill" in page
    assert ilse.post(address).status_code == 409


def test_what_was_called_off_can_be_brought_back_while_that_can_be_done(school: School) -> None:
    """The roster leads to a page that says who comes back and who does not; the student's page
    shows it booked again.
    """
    school.circle.places = 2
    school.circle.save()
    for student in (school.noor, school.marlo):
        make_booking(school.circle, student)
    ilse, address = as_user(school.ilse.user), f"/meetings/{school.circle.pk}/"
    assert "Reinstate this meeting" not in text_of(ilse.get(address))
    assert "You can reinstate it until it would start" in text_of(ilse.get(address + "call-off/"))
    ilse.post(address + "call-off/", {"why": "Ilse is ill"})
    make_booking(
        make_meeting(school.consultation, school.wren, school.circle.starts_at), school.marlo
    )
    roster = text_of(ilse.get(address))
    assert f"{address}reinstate/" in roster
    assert "Nobody: it has been called off." in roster
    assert "Join here" not in roster
    asked = text_of(ilse.get(address + "reinstate/"))
    assert "1 place is restored" in asked
    assert (
        "Marlo Vance is no longer in it: another meeting has since been booked for that time."
        in asked
    )
    assert (
        ilse.post(address + "reinstate/", {"version": 1}).status_code == 412
    )  # the meeting as it was before it was called off
    done = text_of(
        ilse.post(
            address + "reinstate/",
            {"version": Meeting.objects.get(pk=school.circle.pk).version},
            follow=True,
        )
    )
    assert (
        "Reinstated. Everybody gets one email. Marlo Vance is no longer in it: another meeting"
        in done
    )
    assert f"{address}reinstate/" not in done
    assert "Join here" in done
    for student in (school.noor, school.marlo):
        assert "called off" not in text_of(as_user(student.user).get("/my-lessons/"))
    assert ilse.post(address + "reinstate/").status_code == 409


def test_the_roster_offers_no_way_back_where_the_time_is_taken(school: School) -> None:
    """The way back is not shown, and its page says why."""
    make_meeting(school.consultation, school.ilse, at("2027-03-20T16:30Z"))
    ilse, address = as_user(school.ilse.user), f"/meetings/{school.called_off().pk}/"
    assert "reinstate" not in text_of(ilse.get(address))
    page = text_of(ilse.get(address + "reinstate/"))
    assert "now has another meeting then" in page
    assert "<form" not in page.partition("<main")[2]


def test_an_admin_makes_a_group_meeting_on_the_instructors_clock(school: School) -> None:
    """16:00 on 19 March in Dublin is 16:00 UTC; a wall time that is skipped (28 March, 01:30) or
    shown twice (31 October) is refused.
    """
    asked = {
        "offering": school.group.pk,
        "instructor": school.ilse.pk,
        "title": "Airs",
        "on": "2027-03-19",
        "at": "16:00",
        "places": 6,
    }
    dag = as_user(school.dag)
    assert dag.get("/meetings/new/").status_code == 200
    assert dag.post("/meetings/new/", asked).status_code == 302
    assert Meeting.objects.get(title="Airs").starts_at == at("2027-03-19T16:00Z")
    assert (
        dag.post("/meetings/new/", {**asked, "on": "2027-03-28", "at": "01:30"}).status_code == 422
    )
    twice = dag.post("/meetings/new/", {**asked, "on": "2027-10-31", "at": "01:30"})
    assert (twice.status_code, "show 2027-10-31 01:30 twice" in text_of(twice)) == (422, True)
    assert dag.post("/meetings/new/", asked).status_code == 409
    assert as_user(school.ilse.user).post("/meetings/new/", asked).status_code == 403


def test_only_those_who_run_a_meeting_reach_its_roster(school: School) -> None:
    """A student sees the group meeting's own page; they and another instructor change nothing."""
    make_booking(school.circle, school.noor)
    address = f"/meetings/{school.circle.pk}/"
    assert "Roster:" not in text_of(as_user(school.marlo.user).get(address))
    assert "Noor" not in text_of(as_user(school.marlo.user).get(address))
    for user in (school.marlo.user, school.wren.user):
        client = as_user(user)
        assert client.post(address + "register/", {}).status_code == 404
        assert client.post(address + "call-off/", {}).status_code == 404
        assert client.post(address + "reinstate/", {}).status_code == 404
        assert client.post(address + "roster/", {"who": 1, "reason": "x"}).status_code == 403
    school.circle.refresh_from_db()
    assert school.circle.status == MeetingStatus.CONFIRMED


def test_a_student_who_may_not_be_booked_by_hand_is_refused_on_the_roster(school: School) -> None:
    """A full meeting refuses an admin, too: staff may not jump the line."""
    make_booking(school.circle, school.noor)
    ada = make_student("Ada Fenn", "Europe/Paris")
    response = as_user(school.dag).post(
        f"/meetings/{school.circle.pk}/roster/", {"who": ada.pk, "reason": "a favour"}
    )
    assert response.status_code == 409
    assert "Every place is taken" in text_of(response)
