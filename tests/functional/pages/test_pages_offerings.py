"""Offerings and who teaches them, as an admin types them."""

import pytest

from bookings.models import AuditRow, Offering, Teaches
from tests.functional.pages.school import School, as_user, text_of

TYPED = {"name": "Harp circle", "kind": "group-meeting", "minutes": 60, "grid": "clock"}


def consultation(**typed: object) -> dict[str, object]:
    """The form of the school's consultation, but for what is typed."""
    return {
        "name": "Consultation",
        "kind": "consultation",
        "minutes": 25,
        "grid": "clock",
        "is_open": "on",
        "version": 1,
        **typed,
    }


def test_an_admin_adds_an_offering_and_says_who_teaches_it(school: School) -> None:
    """A box that is not ticked adds it closed; the list says what it lacks."""
    dag = as_user(school.dag)
    added = dag.post("/offerings/new/", TYPED)
    circle = Offering.objects.get(name="Harp circle")
    assert added.url == f"/offerings/{circle.pk}/teachers/"
    page = text_of(dag.get("/offerings/"))
    assert "60 minutes; <strong>closed</strong>" in page
    assert "<strong>Nobody teaches it.</strong>" in page
    levels = {"instructor": school.wren.pk, "lowest_level": 3, "highest_level": 7, "version": 1}
    assert dag.post(added.url, levels).status_code == 302
    page = text_of(dag.get("/offerings/"))
    assert "Wren Halloway, levels 3 to 7" in page
    assert "<b>Consultation</b>, 25 minutes" in page, "its kind is its name, and said once"
    assert 'value="3"' in text_of(dag.get(f"{added.url}?instructor={school.wren.pk}"))


def test_an_offering_is_changed_and_closed(school: School) -> None:
    """The form shows what is there; nobody can book it afterwards."""
    dag, address = as_user(school.dag), f"/offerings/{school.consultation.pk}/"
    assert 'value="25"' in text_of(dag.get(address))
    typed = consultation(name="First talk", changeover_minutes=10)
    del typed["is_open"]
    assert dag.post(address, typed).url == "/offerings/"
    school.consultation.refresh_from_db()
    changed = school.consultation
    assert (changed.name, changed.changeover_minutes, changed.is_open) == ("First talk", 10, False)
    assert "First talk" not in text_of(as_user(school.noor.user).get("/times/"))


def test_the_length_of_what_has_been_booked_stays_on_the_form(school: School) -> None:
    """The fields are shown and closed, with the reason; what is sent for them is not read."""
    dag, address = as_user(school.dag), f"/offerings/{school.consultation.pk}/"
    assert "This stays, because it has been booked." in text_of(dag.get(address))
    assert dag.post(address, consultation(minutes=50)).status_code == 302
    school.consultation.refresh_from_db()
    assert school.consultation.minutes == 25


def test_a_form_of_an_older_version_keeps_what_was_typed(school: School) -> None:
    """Another admin was first: nothing is saved and nothing typed is lost."""
    dag, address = as_user(school.dag), f"/offerings/{school.consultation.pk}/"
    dag.post(address, consultation(summary="About one obstacle."))
    late = dag.post(address, consultation(summary="A talk."))
    assert late.status_code == 412
    assert "A talk." in text_of(late)
    assert "Read the offering as it is now" in text_of(late)


@pytest.mark.parametrize(
    "typed", [{"name": "Consultation"}, {"minutes": 27}, {"minutes": 500}, {"grid": "moon"}]
)
def test_what_cannot_be_an_offering_comes_back_as_typed(
    school: School, typed: dict[str, object]
) -> None:
    """A taken name, a length off the five minutes or too long, a word that is none."""
    answer = as_user(school.dag).post("/offerings/new/", {**TYPED, **typed})
    assert answer.status_code == 422
    assert Offering.objects.count() == 2


def test_an_instructor_stops_teaching_an_offering_and_bookings_stay(school: School) -> None:
    """The page says how many; each change is one row of the record."""
    address = f"/offerings/{school.consultation.pk}/teachers/"
    asked = {"instructor": school.ilse.pk, "lowest_level": 1, "highest_level": 10, "version": 1}
    page = text_of(as_user(school.dag).post(address, {**asked, "act": "end"}, follow=True))
    assert "Ilse Quarrow no longer teaches Consultation." in page
    assert "1 place ahead would not be taken any more. It is still booked." in page
    assert not Teaches.objects.filter(instructor=school.ilse, offering=school.consultation).exists()
    assert AuditRow.objects.get(thing="offering").fields == ["taught_by"]
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"


def test_levels_the_wrong_way_round_are_refused(school: School) -> None:
    """The sentence says what to do."""
    address = f"/offerings/{school.consultation.pk}/teachers/"
    asked = {"instructor": school.ilse.pk, "lowest_level": 7, "highest_level": 3, "version": 1}
    answer = as_user(school.dag).post(address, asked)
    assert answer.status_code == 422
    assert "the lowest first" in text_of(answer)
