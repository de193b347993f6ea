"""Refused requests about accounts, students, instructors and the end of a group meeting."""

from collections.abc import Callable

from tests import cast
from tests.functional.api import ways
from tests.functional.api.client import Reply
from tests.functional.api.matrix_school_people import (
    class_over,
    dismissed,
    release_body,
    student_body,
    wrap_up_body,
)
from tests.functional.api.school import FOR_POSY
from tests.functional.api.world import World


def _last_guardian(world: World) -> Reply:
    """Somebody without whom a lesson ahead would have nobody's consent."""
    meeting = cast.make_meeting(world.school.consultation, world.school.wren, FOR_POSY)
    cast.make_booking(meeting, world.school.posy)
    row = world.school.hedda.guardianships.get()
    return ways.admin(world).delete(f"guardianships/{row.pk}/", {}, match="*")


def _teaching(world: World) -> Reply:
    path = f"offerings/{world.school.consultation.pk}/instructors/"
    levels = {"lowest_level": 1, "highest_level": 3}
    return ways.admin(world).put(path, {"instructor": dismissed().pk, **levels}, match="*")


def _unread(world: World, path: str, body: dict[str, object]) -> Reply:
    """Drafts that have changed since they were read."""
    sent = {**body, "read_at": "2027-02-01T09:00:00Z"}
    return ways.teacher(world).post(f"meetings/{class_over(world).meeting_id}/{path}", sent)


PEOPLE_WAYS: dict[tuple[str, str, int], Callable[[World], Reply]] = {
    ("POST", "people/<id:pk>/close/", 409): lambda w: ways.admin(w).post(
        f"people/{w.school.noor.user_id}/close/", {}, match="*"
    ),
    ("POST", "people/<id:pk>/reopen/", 409): lambda w: ways.admin(w).post(
        f"people/{w.school.noor.user_id}/reopen/", match="*"
    ),
    ("POST", "students/", 404): lambda w: ways.admin(w).post(
        "students/", {**student_body(w), "regular_instructor": 999_999}
    ),
    ("POST", "students/<id:pk>/return/", 409): lambda w: ways.admin(w).post(
        f"students/{w.school.noor.pk}/return/"
    ),
    ("POST", "instructors/<id:pk>/teach-again/", 409): lambda w: ways.admin(w).post(
        f"instructors/{w.school.ilse.pk}/teach-again/"
    ),
    ("DELETE", "guardianships/<id:pk>/", 409): _last_guardian,
    ("PUT", "offerings/<id:pk>/instructors/", 409): _teaching,
    ("POST", "meetings/<id:pk>/wrap-up/", 409): lambda w: ways.teacher(w).post(
        f"meetings/{w.meeting.pk}/wrap-up/", {"marks": []}
    ),
    ("POST", "meetings/<id:pk>/wrap-up/", 412): lambda w: _unread(w, "wrap-up/", wrap_up_body(w)),
    ("POST", "meetings/<id:pk>/wrap-up/release/", 409): lambda w: ways.teacher(w).post(
        f"meetings/{w.meeting.pk}/wrap-up/release/", {"bookings": [w.place.pk]}
    ),
    ("POST", "meetings/<id:pk>/wrap-up/release/", 412): lambda w: _unread(
        w, "wrap-up/release/", release_body(w)
    ),
}
