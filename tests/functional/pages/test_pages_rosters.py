"""The roster and the register for those who run a meeting: finding, adding, handing over, and what
was typed is kept.
"""

import re
from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Standing
from bookings.models import AuditRow, Booking, MoveRequest, OutboxMessage, WaitingPlace
from tests.cast import NOW, at, make_booking, make_meeting, make_student
from tests.functional.pages.conftest import Hands
from tests.functional.pages.full_school import add_students
from tests.functional.pages.school import School, as_user, text_of

WHY = {"reason": "asked by telephone"}


def roster(school: School) -> str:
    return f"/meetings/{school.circle.pk}/"


def waits(school: School, student: object) -> WaitingPlace:
    return WaitingPlace.objects.create(meeting=school.circle, student=student, joined_at=NOW)


def test_the_roster_lists_no_student_until_a_name_is_typed(school: School) -> None:
    """With 5,000 students the page is at most 100 kB; a name gives a short list."""
    add_students(5000)
    dag, address = as_user(school.dag), roster(school)
    for asked in ("", "?find=alder"):
        assert len(dag.get(address + asked).content) <= 100_000
    assert 'name="who"' not in text_of(dag.get(address))
    found = text_of(dag.get(address, {"find": "alder"}))
    assert found.count('name="who"') == 20
    assert "There are more matches" in found
    (one,) = re.findall(r'name="who" value="(\d+)"', text_of(dag.get(address, {"find": "noor"})))
    assert int(one) == school.noor.pk
    assert "No student matches" in text_of(dag.get(address, {"find": "zzz"}))


def test_an_instructor_finds_nobody_by_searching(school: School) -> None:
    """Adding is an admin's: the search of the roster tells an instructor nothing."""
    assert "Marlo" not in text_of(as_user(school.ilse.user).get(roster(school), {"find": "marlo"}))


def test_a_refused_addition_keeps_what_was_typed(school: School) -> None:
    """The search, the student, the kind of place, the exception and the reason."""
    school.circle.listener_places = 3
    school.circle.save()
    waits(school, make_student("Ada Fenn"))
    typed = {"find": "o", "who": school.marlo.pk, "as": "listener", "ahead": "yes", "reason": " "}
    page = text_of(as_user(school.dag).post(roster(school) + "roster/", typed))
    assert 'id="find" name="find" type="search" maxlength="200" value="o"' in page
    assert f'value="{school.marlo.pk}" required checked' in page
    assert '<option value="listener" selected>' in page
    assert 'name="ahead" value="yes" checked' in page
    make_booking(school.circle, school.noor)
    typed = {"find": "marlo", "who": school.marlo.pk, **WHY}
    page = text_of(as_user(school.dag).post(roster(school) + "roster/", typed))
    assert 'value="asked by telephone"' in page


def test_a_refused_removal_keeps_what_was_typed(school: School) -> None:
    """The student chosen and the reason, also where the roster has changed since."""
    school.circle.places = 3
    school.circle.save()
    bookings = [make_booking(school.circle, one) for one in (school.noor, school.marlo)]
    typed = {"booking": bookings[1].pk, "version": 9, "reason": "moves away"}
    answer = as_user(school.dag).post(roster(school) + "roster/", typed)
    page = text_of(answer)
    assert answer.status_code == 412
    assert f'<option value="{bookings[1].pk}" selected>' in page
    assert 'value="moves away"' in page


def test_a_refused_register_keeps_every_row(school: School, hands: Hands) -> None:
    """Each mark stands as it was chosen, and what is saved is said beside it."""
    school.circle.places = 3
    school.circle.save()
    bookings = [make_booking(school.circle, one) for one in (school.noor, school.marlo)]
    hands.at = school.circle.starts_at
    marks = {f"mark-{bookings[0].pk}": "LATE", f"mark-{bookings[1].pk}": "PRESENT"}
    address = roster(school) + "register/"
    answer = as_user(school.ilse.user).post(address, {**marks, "version": 9})
    page = text_of(answer)
    assert answer.status_code == 412
    assert page.count(" selected>") == 2
    assert page.index('<option value="LATE" selected>') < page.index('"PRESENT" selected>')
    assert page.count("Not saved yet. The register says: not marked.") == 2


def test_a_free_place_is_given_ahead_of_those_who_wait(school: School) -> None:
    """While an offer is pending on another place, too; and whoever waits keeps their position."""
    school.circle.places = 2
    school.circle.save()
    ada, bo = make_student("Ada Fenn"), make_student("Bo Lark")
    offered = waits(school, ada)
    make_booking(
        school.circle,
        ada,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
        waiting_place=offered,
    )
    behind = waits(school, bo)
    dag, address = as_user(school.dag), roster(school)
    page = text_of(dag.get(address, {"find": "marlo"}))
    assert "Put ahead of the waiting list" in page
    version = re.findall(r'name="version" value="(\d+)"', page)[0]
    typed = {"who": school.marlo.pk, "ahead": "yes", "version": version, **WHY}
    assert dag.post(address + "roster/", typed).status_code == 302
    behind.refresh_from_db()
    assert behind.ended_at is None
    assert AuditRow.objects.filter(verb="booked ahead of the queue").count() == 1


def full(school: School) -> tuple[Booking, WaitingPlace]:
    """Noor holds the only place, and Ada waits for it."""
    return make_booking(school.circle, school.noor), waits(school, make_student("Ada Fenn"))


def test_a_place_is_handed_over_ahead_of_those_who_wait(school: School) -> None:
    """In one step, so it is never offered between: one is removed, one booked, nobody asked."""
    school.circle.listener_places = 3
    school.circle.save()
    leaving, behind = full(school)
    dag, address = as_user(school.dag), roster(school)
    page = text_of(dag.get(address, {"find": "marlo"}))
    assert "Put ahead of the waiting list" not in page
    assert "You can give a student the place of somebody who leaves" in page
    version = re.findall(r'name="version" value="(\d+)"', page)[0]
    typed = {"who": school.marlo.pk, "instead_of": leaving.pk, "version": version, **WHY}
    assert dag.post(address + "roster/", typed).status_code == 302
    behind.refresh_from_db()
    held = Booking.objects.get(meeting=school.circle, standing=Standing.HELD)
    assert (held.student, behind.ended_at) == (school.marlo, None)
    assert not OutboxMessage.objects.filter(kind="offer").exists()
    assert set(AuditRow.objects.values_list("verb", flat=True)) == {
        "removed",
        "booked ahead of the queue",
    }


def test_handing_over_is_refused_whole(school: School) -> None:
    """Whoever cannot take the place leaves it where it is; an old page changes nothing."""
    leaving, _ = full(school)
    at_once = make_meeting(school.consultation, school.wren, school.circle.starts_at)
    make_booking(at_once, school.marlo)
    dag, address = as_user(school.dag), roster(school) + "roster/"
    typed = {"who": school.marlo.pk, "instead_of": leaving.pk, **WHY}
    assert dag.post(address, typed).status_code == 409
    other = {**typed, "who": make_student("Bo Lark").pk, "version": 9}
    assert dag.post(address, other).status_code == 412
    elsewhere = {**typed, "instead_of": school.booking.pk}
    assert dag.post(address, elsewhere).status_code == 404
    leaving.refresh_from_db()
    assert leaving.standing == Standing.HELD
    assert not AuditRow.objects.exists()


def test_why_nobody_can_be_put_ahead_is_said(school: School) -> None:
    """An offer stands until it is answered: the page and the refusal say so in words."""
    ada = make_student("Ada Fenn")
    offer = make_booking(
        school.circle,
        ada,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
        waiting_place=waits(school, ada),
    )
    dag, address = as_user(school.dag), roster(school)
    assert "An offer is kept until it is answered" in text_of(dag.get(address, {"find": "marlo"}))
    asked = {"who": school.marlo.pk, **WHY}
    refused = dag.post(address + "roster/", {**asked, "ahead": "yes"})
    assert "nobody can be put ahead of the waiting list" in text_of(refused)
    refused = dag.post(address + "roster/", {**asked, "instead_of": offer.pk})
    assert "An offer is kept" in text_of(refused)


def test_meetings_open_at_today_and_past_ones_stand_behind_a_link(
    school: School, hands: Hands
) -> None:
    """Today's are there, also those that are over; older ones are on pages of their own."""
    hands.at = at("2027-03-13T18:00Z")
    for days in range(60):
        start = at("2027-03-12T10:00Z") - timedelta(days=days)
        make_meeting(school.group, school.ilse, start, title=f"Past {days}.")
    make_meeting(school.group, school.ilse, at("2027-03-14T10:00Z"), title="Ahead.")
    for user in (school.ilse.user, school.dag):
        client = as_user(user)
        page = text_of(client.get("/meetings/"))
        assert "Placing without looking" in page
        assert "Ahead." in page
        assert "Past" in page and "Past 0." not in page
        assert 'href="/meetings/?past=yes"' in page
        past = text_of(client.get("/meetings/?past=yes"))
        assert past.index("Past 0.") < past.index("Past 1.")
        assert "Ahead." not in past
        assert "Past 59." in text_of(client.get("/meetings/?past=yes&page=2"))


@pytest.mark.parametrize("count", [0, 3])
def test_the_navigation_counts_the_requests_to_move(school: School, count: int) -> None:
    """An instructor's own, all of them for an admin; families have no such page."""
    for number in range(count):
        meeting = make_meeting(school.consultation, school.ilse, NOW + timedelta(days=number + 20))
        MoveRequest.objects.create(
            booking=make_booking(meeting, school.noor),
            asked_by=school.dag,
            starts_at=NOW + timedelta(days=30),
            sequence=0,
            asked_at=NOW,
        )
    said = f">Requests to move ({count})</a>" if count else ">Requests to move</a>"
    for user in (school.ilse.user, school.dag):
        assert said in text_of(as_user(user).get("/me/"))
    assert ">Requests to move</a>" in text_of(as_user(school.wren.user).get("/me/"))
    assert "Requests to move" not in text_of(as_user(school.noor.user).get("/me/"))
