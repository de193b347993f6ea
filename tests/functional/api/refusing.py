"""What no general way provokes: for one verb, one address and one status, a request that is
answered so.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import override_settings
from knox.models import AuthToken

from accounts.models import User
from bookings.operations.limits import MOST_TOKENS
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, Reply
from tests.functional.api.school import FRIDAY
from tests.functional.api.world import World

Way = Callable[[World], Reply]


def _owner(world: World) -> Api:
    return Api(world.school.noor.user)


def _teacher(world: World) -> Api:
    return Api(world.school.ilse.user)


def _admin(world: World) -> Api:
    return Api(world.school.dag)


def _twice(ask: Callable[[], Reply]) -> Reply:
    """Done, it cannot be done again."""
    ask()
    return ask()


def _ended(world: World) -> str:
    """The address of a booking that has been cancelled."""
    path = f"bookings/{world.booking.pk}/"
    _owner(world).post(path + "cancel/", match="*")
    return path


def _off(world: World) -> str:
    """The address of a meeting that has been called off."""
    return f"meetings/{world.off.pk}/"


def _answered(world: World, how: str) -> Reply:
    path = f"move-requests/{world.ask.pk}/"
    _teacher(world).post(path + "refuse/", {}, match="*")
    return _teacher(world).post(path + how, {} if how == "refuse/" else None, match="*")


def _secret_again(who: Api, path: str, data: Any = None) -> Reply:
    """The same key again, where the first answer held what is shown once."""
    return _twice(lambda: who.post(path, data, key="again", match="*"))


def _full_roster(world: World) -> Reply:
    full = world.school.class_on(places=1, starts_at=FRIDAY + timedelta(days=16))
    cast.make_booking(full, world.school.marlo)
    asked = {"student": world.school.noor.pk, "reason": "By telephone"}
    return _admin(world).post(f"meetings/{full.pk}/roster/", asked)


def _exception_without_version(world: World) -> Reply:
    asked = {
        "student": world.school.marlo.pk,
        "reason": "By telephone",
        "ahead_of_waiting_list": True,
    }
    return _admin(world).post(f"meetings/{world.meeting.pk}/roster/", asked)


def _joins(world: World) -> Reply:
    full = world.school.class_on(places=1, starts_at=FRIDAY + timedelta(days=16))
    cast.make_booking(full, world.school.marlo)
    return _owner(world).post(f"meetings/{full.pk}/waiting-list/", {})


def _marked(world: World) -> Reply:
    begun = world.school.class_on(starts_at=NOW - timedelta(minutes=5))
    place = cast.make_booking(begun, world.school.noor)
    marks = [{"booking": place.pk, "attendance": "PRESENT"}]
    return _teacher(world).put(f"meetings/{begun.pk}/register/", {"marks": marks}, match="*")


def _too_few_places(world: World) -> Reply:
    cast.make_booking(world.meeting, world.school.marlo)
    return _teacher(world).patch(f"meetings/{world.meeting.pk}/", {"places": 1}, match="*")


def _weekly_again(world: World) -> Reply:
    place = world.weekly
    asked = {
        "term": place.term_id,
        "offering": place.offering_id,
        "instructor": place.instructor_id,
        "weekday": "TH",
        "wall_time": "03:00",
    }
    return _owner(world).post("weekly-places/", asked)


def _weekly_to_the_night(world: World) -> Reply:
    asked = {"weekday": "TH", "wall_time": "03:00"}
    return _owner(world).post(f"weekly-places/{world.weekly.pk}/move/", asked, match="*")


def _withdrawn_again(world: World) -> Reply:
    path = f"consents/{world.school.posy.guardianships.get().pk}/withdraw/"
    return _twice(lambda: Api(world.school.hedda).post(path, {"end_bookings": True}, match="*"))


def _invited(world: World, student: int) -> Reply:
    """Somebody who is not there, or who has an account."""
    asked = {"name": "Noor", "email": "n@rowanmere.example", "role": "student"}
    return _admin(world).post("invitations/", {**asked, "student": student})


def _signs_in_everywhere(world: World) -> Reply:
    """On more devices than there may be."""
    noor = cast.user_of(world.school.noor)
    for _ in range(MOST_TOKENS):
        AuthToken.objects.create(noor)
    return _signs_in(noor)


def _signs_in(user: User | None) -> Reply:
    assert user is not None
    read = User.objects.get(pk=user.pk)
    read.set_password("slow-practice-first")
    read.save()
    asked = {"email": read.email, "password": "slow-practice-first"}
    return Api().post("tokens/", asked)


def _signs_in_without_a_second_factor(world: World) -> Reply:
    with override_settings(SECOND_FACTOR_REQUIRED=True):
        return _signs_in(world.school.ilse.user)


def _signs_out(world: World) -> Reply:
    token = _signs_in(world.school.noor.user).json["token"]
    return Api().delete("tokens/current/", headers={"Authorization": f"Bearer {token}"})


PAST = (NOW - timedelta(days=1)).isoformat()
_CLASS = {"title": "New", "places": 3}

OWN_WAYS: dict[tuple[str, str, int], Way] = {
    ("DELETE", "invitations/<id:pk>/", 409): lambda w: _twice(
        lambda: _admin(w).delete(f"invitations/{w.invited.pk}/")
    ),
    ("DELETE", "meetings/<id:pk>/waiting-list/", 409): lambda w: _twice(
        lambda: _owner(w).delete(f"meetings/{w.meeting.pk}/waiting-list/?as=player")
    ),
    ("DELETE", "tokens/current/", 204): _signs_out,
    ("GET", "bookings/<id:pk>/invitation.ics", 409): lambda w: _owner(w).get(
        f"bookings/{w.offer.pk}/invitation.ics"
    ),
    ("GET", "busy-calendars/", 404): lambda w: _owner(w).get(
        f"busy-calendars/?student={w.school.marlo.pk}"
    ),
    ("GET", "days-away/", 403): lambda w: _owner(w).get("days-away/"),
    ("GET", "extra-hours/", 403): lambda w: _owner(w).get("extra-hours/"),
    ("GET", "teaching-hours/", 403): lambda w: _owner(w).get("teaching-hours/"),
    ("GET", "teaching-hours/availability.ics", 403): lambda w: _owner(w).get(
        "teaching-hours/availability.ics"
    ),
    ("GET", "slots/", 404): lambda w: _owner(w).get(
        f"slots/?offering={w.school.consultation.pk}&student={w.school.marlo.pk}"
    ),
    ("GET", "slots/explain/", 404): lambda w: _owner(w).get(
        f"slots/explain/?offering={w.school.consultation.pk}&instructor={w.school.ilse.pk}"
        f"&starts_at=2027-03-03T15:00:00Z&student={w.school.marlo.pk}"
    ),
    ("GET", "students/<id:pk>/assessments/latest/", 422): lambda w: _admin(w).get(
        f"students/{w.school.noor.pk}/assessments/latest/"
    ),
    ("PATCH", "assessments/<id:pk>/", 409): lambda w: _twice(
        lambda: _teacher(w).patch(
            f"assessments/{w.draft.pk}/", {"goal": "Study 6"}, key="again", match="*"
        )
    ),
    ("PATCH", "bookings/<id:pk>/intake/", 409): lambda w: _owner(w).patch(
        _ended(w) + "intake/", {"pieces": "Study 4"}, match="*"
    ),
    ("PATCH", "meetings/<id:pk>/", 409): _too_few_places,
    ("POST", "assessments/", 404): lambda w: _teacher(w).post(
        "assessments/", {"student": 999_999, "level": 4, "unit": 2}
    ),
    ("POST", "assessments/", 409): lambda w: _secret_again(
        _teacher(w), "assessments/", {"student": w.school.noor.pk, "level": 4, "unit": 2}
    ),
    ("POST", "assessments/<id:pk>/release/", 409): lambda w: _teacher(w).post(
        f"assessments/{w.released.pk}/release/", match="*"
    ),
    ("POST", "assessments/<id:pk>/adopt-level/", 409): lambda w: _teacher(w).post(
        f"assessments/{w.draft.pk}/adopt-level/", match="*"
    ),
    ("POST", "bookings/", 409): lambda w: _owner(w).post(
        "bookings/", w.school.slot(starts_at=PAST)
    ),
    ("POST", "bookings/<id:pk>/cancel/", 409): lambda w: _owner(w).post(
        _ended(w) + "cancel/", match="*"
    ),
    ("POST", "bookings/<id:pk>/move-requests/", 409): lambda w: _owner(w).post(
        _ended(w) + "move-requests/", {"starts_at": "2027-03-03T03:00:00+00:00"}
    ),
    ("POST", "bookings/<id:pk>/move/", 409): lambda w: _owner(w).post(
        _ended(w) + "move/", {"starts_at": "2027-03-03T15:00:00+00:00"}, match="*"
    ),
    ("POST", "consents/<id:pk>/withdraw/", 409): _withdrawn_again,
    ("POST", "days-away/", 409): lambda w: _teacher(w).post(
        "days-away/", {"first_on": "2027-03-05", "last_on": "2027-03-05"}
    ),
    ("POST", "extra-hours/", 409): lambda w: _teacher(w).post(
        "extra-hours/", {"on": "2027-02-01", "opens": "06:00", "closes": "07:00"}
    ),
    ("POST", "feeds/", 404): lambda w: _owner(w).post(
        "feeds/", {"name": "Work", "instructor": w.school.ilse.pk}
    ),
    ("POST", "feeds/", 409): lambda w: _secret_again(_owner(w), "feeds/", {"name": "Tablet"}),
    ("POST", "feeds/<id:pk>/renew/", 409): lambda w: _secret_again(
        _owner(w), f"feeds/{w.feed.pk}/renew/"
    ),
    ("POST", "instructors/<id:pk>/dismiss/", 409): lambda w: _admin(w).post(
        f"instructors/{w.school.ilse.pk}/dismiss/", {}
    ),
    ("POST", "invitations/", 404): lambda w: _invited(w, 999_999),
    ("POST", "invitations/", 409): lambda w: _invited(w, w.school.noor.pk),
    ("POST", "load-allowances/", 409): lambda w: _teacher(w).post(
        "load-allowances/", {"starts_at": PAST}
    ),
    ("POST", "meetings/", 409): lambda w: _teacher(w).post(
        "meetings/", {**_CLASS, "offering": w.school.group.pk, "starts_at": PAST}
    ),
    ("POST", "meetings/<id:pk>/call-off/", 409): lambda w: _teacher(w).post(
        _off(w) + "call-off/", {"reason": "A broken string"}, match="*"
    ),
    ("POST", "meetings/<id:pk>/reinstate/", 409): lambda w: _teacher(w).post(
        f"meetings/{w.meeting.pk}/reinstate/", match="*"
    ),
    ("POST", "meetings/<id:pk>/roster/", 409): _full_roster,
    ("POST", "meetings/<id:pk>/roster/", 428): _exception_without_version,
    ("POST", "meetings/<id:pk>/waiting-list/", 201): _joins,
    ("POST", "move-requests/<id:pk>/accept/", 409): lambda w: _answered(w, "accept/"),
    ("POST", "move-requests/<id:pk>/refuse/", 409): lambda w: _answered(w, "refuse/"),
    ("POST", "offers/<id:pk>/accept/", 409): lambda w: _twice(
        lambda: _owner(w).post(f"offers/{w.offer.pk}/accept/")
    ),
    ("POST", "offers/<id:pk>/decline/", 409): lambda w: _twice(
        lambda: _owner(w).post(f"offers/{w.offer.pk}/decline/")
    ),
    ("POST", "students/<id:pk>/leave/", 409): lambda w: _admin(w).post(
        f"students/{w.school.noor.pk}/leave/", {}
    ),
    ("POST", "students/<id:pk>/assessments/latest/", 409): lambda w: _secret_again(
        _admin(w), f"students/{w.school.noor.pk}/assessments/latest/", {"reason": "A question"}
    ),
    ("POST", "tokens/", 201): lambda w: _signs_in(w.school.noor.user),
    ("POST", "tokens/", 409): _signs_in_everywhere,
    ("POST", "tokens/", 403): _signs_in_without_a_second_factor,
    ("POST", "weekly-places/", 409): _weekly_again,
    ("POST", "weekly-places/<id:pk>/leave/", 409): lambda w: _twice(
        lambda: _owner(w).post(f"weekly-places/{w.weekly.pk}/leave/", match="*")
    ),
    ("POST", "weekly-places/<id:pk>/move/", 409): _weekly_to_the_night,
    ("PUT", "meetings/<id:pk>/register/", 200): _marked,
}
