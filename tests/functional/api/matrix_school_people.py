"""The part of the authorisation matrix that is about accounts, students, instructors, who teaches
what, and the end of a group meeting.
"""

from datetime import timedelta
from typing import Any

from accounts.models import Instructor, Student, User
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import NoteForm
from bookings.models import Assessment, Booking, Mark
from tests import cast
from tests.cast import NOW
from tests.functional.api.matrix_people import ADMINS
from tests.functional.api.matrix_rows import Cells, Route, everybody
from tests.functional.api.world import World

ADMINS_ADD: Cells = (403, 403, 403, 403, 403, 201)
INSTRUCTOR: Cells = (404, 404, 404, 200, 404, 404)


def left_student() -> Student:
    """Somebody who has left, made once."""
    found = Student.objects.filter(is_active=False, own_name="Alder Finch").first()
    zone = "Europe/Dublin"
    return found or Student.objects.create(
        own_name="Alder Finch", level=3, own_time_zone=zone, is_active=False
    )


def closed_person() -> User:
    """Somebody whose account is closed, made once."""
    found = User.objects.filter(is_active=False, name="Rue Alder").first()
    if found is None:
        found = cast.make_user("Rue Alder")
        found.is_active = False
        found.save(update_fields=["is_active"])
    return found


def dismissed() -> Instructor:
    """Somebody who teaches here no more, made once."""
    found = Instructor.objects.filter(is_active=False).first()
    if found is None:
        found = cast.make_instructor("Soren Vale")
        found.is_active = False
        found.save(update_fields=["is_active"])
    return found


def class_over(world: World) -> Booking:
    """The learner's place in a class of three days ago, where they were present, with a draft;
    made once.
    """
    starts_at = NOW - timedelta(days=3, hours=2)
    found = Booking.objects.of(world.learner).filter(starts_at=starts_at).first()
    if found is not None:
        return found
    place = cast.make_booking(world.school.class_on(starts_at=starts_at), world.learner)
    Mark.objects.create(booking=place, attendance="PRESENT", marked_at=NOW)
    place.entries.create(attendance="PRESENT", entered_by=world.school.ilse.user, entered_at=NOW)
    cast.make_assessment(
        world.learner,
        world.school.ilse,
        meeting=place.meeting,
        form=NoteForm.LESSON_NOTE,
        heard=["Chords"],
        next_steps=["Four bars a day"],
    )
    return place


def draft_of(place: Booking) -> Assessment:
    return Assessment.objects.get(meeting=place.meeting, student=place.student)


def wrap_up_body(world: World) -> dict[str, Any]:
    place = class_over(world)
    return {
        "marks": [{"booking": place.pk, "attendance": "PRESENT"}],
        "heard": ["Chords, slowly"],
        "goals": [{"booking": place.pk, "goal": "Ten chords at 60"}],
        "read_at": rfc3339(draft_of(place).written_at),
    }


def release_body(world: World) -> dict[str, Any]:
    place = class_over(world)
    return {"bookings": [place.pk], "read_at": rfc3339(draft_of(place).written_at)}


def student_body(world: World) -> dict[str, Any]:
    return {
        "name": "Linnet Ashdown",
        "level": 3,
        "unit": 2,
        "time_zone": "Europe/Dublin",
        "adult_on": "2035-05-01",
        "regular_instructor": world.school.ilse.pk,
        "guardians": [{"name": "Fern Ashdown", "email": "fern@ashdown.example"}],
    }


SCHOOL_PEOPLE: dict[tuple[str, str], Route] = {
    ("GET", "people/"): Route(lambda w: "people/", ADMINS),
    ("GET", "people/<id:pk>/"): Route(lambda w: f"people/{w.school.marlo.user_id}/", ADMINS),
    ("PATCH", "people/<id:pk>/"): Route(
        lambda w: f"people/{w.school.marlo.user_id}/", ADMINS, lambda w: {"name": "Marlo Reed"}
    ),
    ("POST", "people/<id:pk>/close/"): Route(
        lambda w: f"people/{w.school.marlo.user_id}/close/", ADMINS, lambda w: {"reason": "Gone."}
    ),
    ("POST", "people/<id:pk>/reopen/"): Route(
        lambda w: f"people/{closed_person().pk}/reopen/", ADMINS
    ),
    ("POST", "students/"): Route(lambda w: "students/", ADMINS_ADD, student_body),
    ("POST", "students/<id:pk>/return/"): Route(
        lambda w: f"students/{left_student().pk}/return/", ADMINS
    ),
    ("GET", "instructors/"): Route(lambda w: "instructors/", ADMINS),
    ("GET", "instructors/<id:pk>/"): Route(lambda w: f"instructors/{w.school.ilse.pk}/", ADMINS),
    ("POST", "instructors/<id:pk>/teach-again/"): Route(
        lambda w: f"instructors/{dismissed().pk}/teach-again/", ADMINS
    ),
    ("DELETE", "guardianships/<id:pk>/"): Route(
        lambda w: f"guardianships/{w.second.pk}/", (403, 403, 403, 403, 403, 204)
    ),
    ("GET", "offerings/<id:pk>/instructors/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/instructors/", everybody(200)
    ),
    ("PUT", "offerings/<id:pk>/instructors/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/instructors/",
        ADMINS,
        lambda w: {"instructor": w.school.wren.pk, "lowest_level": 2, "highest_level": 6},
    ),
    ("DELETE", "offerings/<id:pk>/instructors/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/instructors/",
        ADMINS,
        lambda w: {"instructor": w.school.wren.pk},
    ),
    ("GET", "meetings/<id:pk>/wrap-up/"): Route(
        lambda w: f"meetings/{class_over(w).meeting_id}/wrap-up/", INSTRUCTOR
    ),
    ("POST", "meetings/<id:pk>/wrap-up/"): Route(
        lambda w: f"meetings/{class_over(w).meeting_id}/wrap-up/", INSTRUCTOR, wrap_up_body
    ),
    ("POST", "meetings/<id:pk>/wrap-up/release/"): Route(
        lambda w: f"meetings/{class_over(w).meeting_id}/wrap-up/release/",
        INSTRUCTOR,
        release_body,
    ),
}
