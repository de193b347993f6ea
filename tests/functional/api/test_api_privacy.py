"""What other people's eyes must not see, and what must stop working with a password."""

from datetime import UTC, datetime, timedelta

import pytest
from allauth.account.signals import password_changed, password_reset

from bookings import clock
from bookings.models import WaitingPlace
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.school import FOR_POSY, School


def test_a_minors_surname_is_for_their_family_and_admins(school: School) -> None:
    """Their instructor calls them by their first name in bookings, brief, roster and waiting list
    (acceptance scenario 6).
    """
    booking = school.booked(school.hedda, student=school.posy.pk, starts_at=FOR_POSY.isoformat())
    meeting = school.class_on(starts_at=FOR_POSY.replace(day=8))
    cast.make_booking(meeting, school.posy)
    WaitingPlace.objects.create(
        meeting=meeting, student=school.posy, place_kind="listener", joined_at=NOW
    )
    routes = ["bookings/", f"bookings/{booking['id']}/", f"bookings/{booking['id']}/brief/"]
    routes += [f"meetings/{meeting.pk}/roster/", f"meetings/{meeting.pk}/waiting-list/"]
    for route in routes:
        seen = Api(school.ilse.user).get(route)
        assert seen.status == 200, route
        assert school.posy.first_name.encode() in seen.body, route
        assert b"Lindqvist" not in seen.body, route
    for reader in (school.hedda, school.dag):
        assert (
            Api(reader).get(f"bookings/{booking['id']}/").json["student"]["name"]
            == school.posy.full_name
        )


@pytest.mark.parametrize("signal", [password_changed, password_reset])
def test_tokens_end_with_the_password(school: School, signal) -> None:
    """Whoever held a token before the password was changed or reset signs in again."""
    user = school.noor.user
    user.set_password(cast.PASSWORD)
    user.save()
    token = Api().post("tokens/", {"email": user.email, "password": cast.PASSWORD}).json["token"]
    bearer = {"Authorization": f"Bearer {token}"}
    assert Api().get("me/", headers=bearer).status == 200
    signal.send(sender=type(user), request=None, user=user)
    assert Api().get("me/", headers=bearer).status == 401


def test_a_tokens_life_runs_on_the_clock_that_gave_it(school: School, monkeypatch) -> None:
    """The demo's clock runs months ahead of the machine's, which sets the expiry: a new token is
    not expired there.
    """
    user = school.noor.user
    user.set_password(cast.PASSWORD)
    user.save()
    monkeypatch.setattr(clock, "now", lambda: datetime.now(UTC) + timedelta(days=400))
    token = Api().post("tokens/", {"email": user.email, "password": cast.PASSWORD}).json["token"]
    assert Api().get("me/", headers={"Authorization": f"Bearer {token}"}).status == 200


def test_a_reason_is_not_for_an_address(school: School) -> None:
    """An admin gives theirs in the body: in the address it is refused clearly, whoever sends it,
    and nothing is read.
    """
    note, dag = school.released(school.noor, school.wren), Api(school.dag)
    path = f"students/{school.noor.pk}/assessments/latest/"
    for user in (school.dag, school.noor.user):
        refused = Api(user).get(f"{path}?reason=A+question")
        assert (refused.status, refused.code) == (422, "invalid")
    assert dag.get(path).status == 422
    assert dag.post(path, {"reason": " "}).status == 422
    assert not note.readings.exists()
    assert dag.post(path, {"reason": "A question"}).json["id"] == note.pk
    assert note.readings.get().reason == "A question"
