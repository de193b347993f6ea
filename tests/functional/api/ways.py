"""Requests that are refused, or answered in a rarer way: who asks, and what went before."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import override_settings
from knox.models import AuthToken

from accounts.models import User
from bookings.models import Meeting
from bookings.operations.limits import MOST_TOKENS
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, Reply
from tests.functional.api.matrix_plans import group_plan
from tests.functional.api.matrix_rows import lesson_over
from tests.functional.api.school import FRIDAY
from tests.functional.api.world import World


def owner(world: World) -> Api:
    return Api(world.school.noor.user)


def teacher(world: World) -> Api:
    return Api(world.school.ilse.user)


def admin(world: World) -> Api:
    return Api(world.school.dag)


def wrapped_up(world: World) -> Reply:
    path = f"bookings/{lesson_over(world).pk}/wrap-up/"
    return teacher(world).post(path, {"note": {"goal": "Ten chords at 72"}})


def unread_draft(world: World) -> Reply:
    """A draft that the sender has not read would be overwritten."""
    wrapped_up(world)
    path = f"bookings/{lesson_over(world).pk}/wrap-up/"
    return teacher(world).post(path, {"note": {"goal": "Another goal"}})


def twice(ask: Callable[[], Reply]) -> Reply:
    """Done, it cannot be done again."""
    ask()
    return ask()


def ended(world: World) -> str:
    """The address of a booking that has been cancelled."""
    path = f"bookings/{world.booking.pk}/"
    owner(world).post(path + "cancel/", match="*")
    return path


def off(world: World) -> str:
    """The address of a meeting that has been called off."""
    return f"meetings/{world.off.pk}/"


def answered(world: World, how: str) -> Reply:
    path = f"move-requests/{world.ask.pk}/"
    teacher(world).post(path + "refuse/", {}, match="*")
    return teacher(world).post(path + how, {} if how == "refuse/" else None, match="*")


def proposes(world: World, **more: Any) -> Reply:
    """Ilse proposes a time to the learner, with these members changed."""
    asked = {
        "student": world.learner.pk,
        "offering": world.school.consultation.pk,
        "instructor": world.school.ilse.pk,
        "starts": [(FRIDAY + timedelta(days=4)).isoformat()],
        **more,
    }
    return teacher(world).post("proposals/", asked)


def asks_who_is_next_for_nobody(world: World) -> Reply:
    """Who is next for an instructor who is not there."""
    inputs = {"instructor": 999_999, "offering": world.meeting.offering_id}
    return admin(world).post("plans/", {"kind": "who-next", "inputs": inputs})


def wishes_of_a_place_given_up(world: World) -> Reply:
    """The order of a weekly place that has ended."""
    world.weekly.ended_at, world.weekly.ended_why = NOW, "left"
    world.weekly.save()
    path = f"weekly-places/{world.weekly.pk}/wishes/"
    return owner(world).put(path, {"weekly_places": []}, match="*")


def exchange_again(world: World, how: str) -> Reply:
    """An exchange that the family has declined."""
    path = f"exchanges/{world.exchange.pk}/"
    owner(world).post(path + "decline/", match="*")
    return owner(world).post(path + how, match="*")


def plans_what_is_over(world: World) -> Reply:
    """A group plan for days of last year."""
    asked = group_plan(world)
    asked["inputs"] |= {"first_on": "2026-03-03", "last_on": "2026-03-10"}
    return admin(world).post("plans/", asked)


def covers_after_all(world: World) -> Reply:
    """A substitute who has said no says yes."""
    substitute = Api(world.school.wren.user)
    path = f"cover-questions/{world.question.pk}/answer/"
    substitute.post(path, {"says_yes": False})
    return substitute.post(path, {"says_yes": True})


def proposal_again(world: World, how: str) -> Reply:
    """A proposal that the family has declined."""
    path = f"proposals/{world.proposed.proposed_id}/"
    owner(world).post(path + "decline/", match="*")
    who = teacher(world) if how == "withdraw/" else owner(world)
    sent = {"booking": world.proposed.pk} if how == "take/" else None
    return who.post(path + how, sent, match="*")


def secret_again(who: Api, path: str, data: Any = None) -> Reply:
    """The same key again, where the first answer held what is shown once."""
    return twice(lambda: who.post(path, data, key="again", match="*"))


def ticked_too_late(world: World, how: str) -> Reply:
    """The day before yesterday."""
    old = {"plan": world.released.pk, "item": 0, "on": "2027-02-27"}
    return owner(world).post(f"students/{world.learner.pk}/practice/{how}", old)


def full_roster(world: World) -> Reply:
    full = world.school.class_on(places=1, starts_at=FRIDAY + timedelta(days=16))
    cast.make_booking(full, world.school.marlo)
    asked = {"student": world.school.noor.pk, "reason": "By telephone"}
    return admin(world).post(f"meetings/{full.pk}/roster/", asked)


def exception_without_version(world: World) -> Reply:
    asked = {
        "student": world.school.marlo.pk,
        "reason": "By telephone",
        "ahead_of_waiting_list": True,
    }
    return admin(world).post(f"meetings/{world.meeting.pk}/roster/", asked)


def joins(world: World) -> Reply:
    full = world.school.class_on(places=1, starts_at=FRIDAY + timedelta(days=16))
    cast.make_booking(full, world.school.marlo)
    return owner(world).post(f"meetings/{full.pk}/waiting-list/", {})


def plays_too_long(world: World) -> Reply:
    """A turn that ends when the instructor teaches again."""
    at_end = world.played.starts_at + timedelta(minutes=125)
    cast.make_meeting(world.school.group, world.school.ilse, at_end, places=2)
    players = [{"booking": world.played.pk, "minutes": 120, "leaves_by": None}]
    address = f"meetings/{world.played.meeting_id}/agenda/"
    return admin(world).put(address, {"players": players}, match="*")


def leaves_what_is_called_off(world: World) -> Reply:
    """A player of a masterclass that does not take place."""
    Meeting.objects.filter(pk=world.played.meeting_id).update(status="CANCELLED")
    address = f"bookings/{world.played.pk}/leaves-by/"
    return owner(world).put(address, {"leaves_by": None}, match="*")


def marked(world: World) -> Reply:
    begun = world.school.class_on(starts_at=NOW - timedelta(minutes=5))
    place = cast.make_booking(begun, world.school.noor)
    marks = [{"booking": place.pk, "attendance": "PRESENT"}]
    return teacher(world).put(f"meetings/{begun.pk}/register/", {"marks": marks}, match="*")


def too_few_places(world: World) -> Reply:
    cast.make_booking(world.meeting, world.school.marlo)
    return teacher(world).patch(f"meetings/{world.meeting.pk}/", {"places": 1}, match="*")


def weekly_again(world: World) -> Reply:
    place = world.weekly
    asked = {
        "term": place.term_id,
        "offering": place.offering_id,
        "instructor": place.instructor_id,
        "weekday": "TH",
        "wall_time": "03:00",
    }
    return owner(world).post("weekly-places/", asked)


def weekly_to_the_night(world: World) -> Reply:
    asked = {"weekday": "TH", "wall_time": "03:00"}
    return owner(world).post(f"weekly-places/{world.weekly.pk}/move/", asked, match="*")


def withdrawn_again(world: World) -> Reply:
    path = f"consents/{world.school.hedda.guardianships.get().pk}/withdraw/"
    return twice(lambda: Api(world.school.hedda).post(path, {"end_bookings": True}, match="*"))


def barred_again(world: World, how: str) -> Reply:
    """Barred, or the bar lifted, a second time."""
    row = world.second if how == "bar/" else world.barred.guardianships.get()
    sent = {"reason": "See the file."} if how == "bar/" else None
    return twice(lambda: admin(world).post(f"guardianships/{row.pk}/{how}", sent, match="*"))


def invited(world: World, student: int) -> Reply:
    """Somebody who is not there, or who has an account."""
    asked = {"name": "Noor", "email": "n@rowanmere.example", "role": "student"}
    return admin(world).post("invitations/", {**asked, "student": student})


def signs_in_everywhere(world: World) -> Reply:
    """On more devices than there may be."""
    noor = cast.user_of(world.school.noor)
    for _ in range(MOST_TOKENS):
        AuthToken.objects.create(noor)
    return signs_in(noor)


def signs_in(user: User | None) -> Reply:
    assert user is not None
    read = User.objects.get(pk=user.pk)
    read.set_password("slow-practice-first")
    read.save()
    asked = {"email": read.email, "password": "slow-practice-first"}
    return Api().post("tokens/", asked)


def signs_in_without_a_second_factor(world: World) -> Reply:
    with override_settings(SECOND_FACTOR_REQUIRED=True):
        return signs_in(world.school.ilse.user)


def signs_out(world: World) -> Reply:
    token = signs_in(world.school.noor.user).json["token"]
    return Api().delete("tokens/current/", headers={"Authorization": f"Bearer {token}"})
