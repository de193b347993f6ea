"""A group meeting is changed on its page: filled in, bound to what was shown, and saying who is
told.
"""

import re
from datetime import timedelta
from typing import Any

from bookings.domain.vocabulary import Standing
from bookings.models import Booking, OutboxMessage, WaitingPlace
from tests.cast import NOW, at, make_booking, make_meeting, make_student
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

TYPED: dict[str, Any] = {
    "title": "Placing by ear",
    "on": "2027-03-12",
    "at": "16:00",
    "places": 4,
    "listener_places": 0,
    "join_address": "https://rooms.rowanmere.example/other",
}
SURE = {**TYPED, "sure": "yes"}
"""The same, saved after the preview."""


def page_of(school: School) -> str:
    return f"/meetings/{school.circle.pk}/change/"


def peopled(school: School) -> list[Booking]:
    """Noor holds the first place, Ada is offered the second, Bo waits."""
    school.circle.places = 2
    school.circle.save()
    ada, bo = make_student("Ada Fenn"), make_student("Bo Lark")
    waits = WaitingPlace.objects.create(meeting=school.circle, student=ada, joined_at=NOW)
    WaitingPlace.objects.create(meeting=school.circle, student=bo, joined_at=NOW)
    offer = {"standing": Standing.OFFERED, "answer_by": NOW + timedelta(hours=20)}
    return [
        make_booking(school.circle, school.noor),
        make_booking(school.circle, ada, waiting_place=waits, **offer),
    ]


def test_the_form_holds_the_meeting_as_it_stands(school: School) -> None:
    """On the instructor's clock; its roster leads there, for those who run it."""
    for user in (school.ilse.user, school.dag):
        client = as_user(user)
        assert page_of(school) in text_of(client.get(f"/meetings/{school.circle.pk}/"))
        page = text_of(client.get(page_of(school)))
        for value in ("Placing without looking", "2027-03-13", "16:00", school.ilse.room):
            assert f'value="{value}"' in page
        assert "On the clock of Dublin." in page
    assert as_user(school.noor.user).get(page_of(school)).status_code == 404
    lesson = f"/meetings/{school.booking.meeting_id}/change/"
    assert as_user(school.ilse.user).get(lesson).status_code == 404


def test_it_says_who_is_told_before_it_is_saved(school: School) -> None:
    """How many are in it, and each email with its new time on the reader's clock; nothing is
    written before it is saved, and then just these are told.
    """
    peopled(school)
    dag = as_user(school.dag)
    asked = {**TYPED, "places": 2, "version": school.circle.version}
    page = text_of(dag.post(page_of(school), asked))
    assert "Friday 12 March, 16:00 (Dublin)</b>. Until now: Saturday 13 March, 16:00." in page
    assert "1 player, 0 listeners, 1 offer of a place, 1 on the waiting list" in page
    assert "Noor Ashgrove</b>: Changed: Placing by ear" in page
    assert "Fri 12 March 11:00, New York" in page
    assert "Ada Fenn</b>: A place is offered" in page
    assert "Bo Lark" not in page
    assert not OutboxMessage.objects.exists()
    school.circle.refresh_from_db()
    assert school.circle.title == "Placing without looking"
    assert dag.post(page_of(school), {**asked, "sure": "yes"}).status_code == 302
    told = set(OutboxMessage.objects.values_list("recipient__name", flat=True))
    assert told == {"Ilse Quarrow", "Noor Ashgrove", "Ada Fenn"}


def test_time_theme_places_and_room_are_changed(school: School) -> None:
    """16:00 in Dublin is 16:00 UTC in March; the place gained is offered to the first in line."""
    booking = peopled(school)[0]
    dag = as_user(school.dag)
    version = re.findall(r'name="version" value="(\d+)"', text_of(dag.get(page_of(school))))
    assert dag.post(page_of(school), {**SURE, "version": version[0]}).status_code == 302
    school.circle.refresh_from_db()
    booking.refresh_from_db()
    circle = school.circle
    assert (circle.title, circle.places, circle.taken) == ("Placing by ear", 4, 3)
    assert circle.join_address == "https://rooms.rowanmere.example/other"
    assert circle.starts_at == booking.starts_at == at("2027-03-12T16:00Z")


def test_an_old_page_changes_nothing_and_keeps_what_was_typed(school: School) -> None:
    """What is saved by now is said beside it."""
    school.circle.version = 3
    school.circle.save()
    answer = as_user(school.dag).post(page_of(school), {**SURE, "version": 2})
    page = text_of(answer)
    assert answer.status_code == 412
    assert 'value="Placing by ear"' in page
    assert "Saved now: Placing without looking, Saturday 13 March, 16:00 (Dublin)" in page
    assert 'name="version" value="3"' in page
    school.circle.refresh_from_db()
    assert school.circle.title == "Placing without looking"


def test_a_refused_change_keeps_what_was_typed(school: School) -> None:
    """Fewer places than are taken, a taken hour, an hour that the clocks skip, a field that is
    wrong.
    """
    peopled(school)
    make_meeting(school.consultation, school.ilse, at("2027-03-14T10:00Z"))
    for changed, status in (
        ({"places": 1}, 409),
        ({"on": "2027-03-14", "at": "10:00"}, 409),
        ({"on": "2027-03-28", "at": "01:30"}, 422),
        ({"at": "25:00"}, 422),
    ):
        answer = as_user(school.dag).post(page_of(school), {**TYPED, **changed})
        assert answer.status_code == status, changed
        assert 'value="Placing by ear"' in text_of(answer)
    school.circle.refresh_from_db()
    assert school.circle.version == 1


def test_a_meeting_that_stands_in_a_repeated_hour_keeps_its_instant(school: School) -> None:
    """31 October, the second 01:30 in Dublin: another theme does not ask which of the two."""
    late = make_meeting(school.group, school.ilse, at("2027-10-31T01:30Z"), title="Late", places=3)
    typed = {**SURE, "on": "2027-10-31", "at": "01:30"}
    address = f"/meetings/{late.pk}/change/"
    assert as_user(school.dag).post(address, typed).status_code == 302
    late.refresh_from_db()
    assert (late.title, late.starts_at) == ("Placing by ear", at("2027-10-31T01:30Z"))


def test_what_has_begun_or_been_called_off_is_not_changed(school: School, hands: Hands) -> None:
    """The page says so and has no form."""
    hands.at = school.circle.starts_at
    page = text_of(as_user(school.dag).get(page_of(school)))
    assert "This meeting has begun. It can no longer be changed." in page
    assert "<form" not in page.partition("<main")[2]
    assert as_user(school.dag).post(page_of(school), TYPED).status_code == 409


def test_the_preview_is_bound_to_what_it_showed(school: School) -> None:
    """Somebody joins between the preview and the save: it is not saved, and the form is shown."""
    dag, version = as_user(school.dag), school.circle.version
    page = text_of(dag.post(page_of(school), {**TYPED, "version": version}))
    assert f'name="version" value="{version}"' in page
    as_user(school.noor.user).post(f"/meetings/{school.circle.pk}/place/", {"kind": "player"})
    answer = dag.post(page_of(school), {**SURE, "version": version})
    assert answer.status_code == 412
    school.circle.refresh_from_db()
    assert school.circle.title == "Placing without looking"


def test_a_preview_refuses_what_saving_would_refuse(school: School) -> None:
    """A day without teaching hours, by an admin; the instructor reads that saving allows it."""
    asked = {**TYPED, "on": "2027-03-14", "at": "22:00", "version": school.circle.version}
    assert as_user(school.dag).post(page_of(school), asked).status_code == 409
    page = text_of(as_user(school.ilse.user).post(page_of(school), asked))
    assert "If you save, you allow it." in page


def test_a_way_back_keeps_what_was_typed(school: School) -> None:
    """From the preview to the form."""
    page = text_of(as_user(school.dag).post(page_of(school), {**TYPED, "back": "yes"}))
    assert 'value="Placing by ear"' in page
    assert "See who is told" in page
