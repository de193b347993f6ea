"""The authorisation matrix: every verb at every address of the API, and the status each kind of
person gets there.
"""

from tests.functional.api.matrix_agendas import AGENDAS
from tests.functional.api.matrix_exchanges import EXCHANGES
from tests.functional.api.matrix_groups import GROUPS
from tests.functional.api.matrix_hooks import HOOKS
from tests.functional.api.matrix_owed import OWED
from tests.functional.api.matrix_people import PEOPLE
from tests.functional.api.matrix_plans import PLANS
from tests.functional.api.matrix_privacy import PRIVACY
from tests.functional.api.matrix_proposed import PROPOSED
from tests.functional.api.matrix_rows import (
    Route,
    chosen_players,
    class_body,
    everybody,
    unknown_account,
)
from tests.functional.api.matrix_school import SCHOOL
from tests.functional.api.matrix_school_people import SCHOOL_PEOPLE
from tests.functional.api.matrix_statements import STATEMENTS
from tests.functional.api.matrix_teaching import TEACHING

ROLES = ("owner", "stranger", "guardian", "teacher", "foreign instructor", "admin")
ONCE_GUARDIANS = ("guardian of a grown child", "removed guardian", "barred guardian")
"""Whose rights have ended: they get what a stranger gets, and where a stranger acts for themselves,
what `NO_STUDENT` says.
"""
NO_STUDENT = {
    ("GET", "slots/"): 403,
    ("GET", "slots/explain/"): 403,
    ("GET", "busy-calendars/"): 403,
}


# owner, stranger, guardian, teacher, foreign instructor, admin
MATRIX: dict[tuple[str, str], Route] = {
    ("POST", "tokens/"): Route(lambda w: "tokens/", everybody(401), unknown_account),
    ("DELETE", "tokens/current/"): Route(lambda w: "tokens/current/", everybody(404)),
    ("GET", "me/"): Route(lambda w: "me/", everybody(200)),
    ("PATCH", "me/"): Route(lambda w: "me/", everybody(200), lambda w: {"name": "Somebody Else"}),
    ("GET", "consents/"): Route(lambda w: "consents/", everybody(200)),
    ("GET", "consents/<id:pk>/"): Route(
        lambda w: f"consents/{w.school.hedda.guardianships.get().pk}/",
        (404, 404, 200, 404, 404, 404),
    ),
    ("POST", "consents/<id:pk>/withdraw/"): Route(
        lambda w: f"consents/{w.school.hedda.guardianships.get().pk}/withdraw/",
        (404, 404, 200, 404, 404, 404),
        lambda w: {"end_bookings": True},
    ),
    ("GET", "invitations/"): Route(lambda w: "invitations/", (403, 403, 403, 403, 403, 200)),
    ("POST", "invitations/"): Route(
        lambda w: "invitations/",
        (403, 403, 403, 403, 403, 201),
        lambda w: {"name": "Ida", "email": "ida@rowanmere.example", "role": "admin"},
    ),
    ("DELETE", "invitations/<id:pk>/"): Route(
        lambda w: f"invitations/{w.invited.pk}/", (403, 403, 403, 403, 403, 204)
    ),
    ("GET", "students/"): Route(lambda w: "students/", (403, 403, 403, 200, 200, 200)),
    ("GET", "students/<id:pk>/"): Route(
        lambda w: f"students/{w.learner.pk}/", (403, 403, 403, 200, 404, 200)
    ),
    ("PATCH", "students/<id:pk>/"): Route(
        lambda w: f"students/{w.learner.pk}/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"regular_instructor": w.school.ilse.pk},
    ),
    ("POST", "students/<id:pk>/leave/"): Route(
        lambda w: f"students/{w.school.marlo.pk}/leave/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"reason": "Done."},
    ),
    ("GET", "slots/"): Route(
        lambda w: f"slots/?offering={w.school.consultation.pk}", (200, 200, 200, 403, 403, 422)
    ),
    ("GET", "slots/explain/"): Route(
        lambda w: (
            f"slots/explain/?offering={w.school.consultation.pk}&instructor={w.school.ilse.pk}&"
            "starts_at=2027-03-03T15:00:00Z"
        ),
        (200, 200, 200, 200, 403, 200),
    ),
    ("GET", "bookings/"): Route(lambda w: "bookings/", everybody(200)),
    ("POST", "bookings/"): Route(
        lambda w: "bookings/",
        (201, 404, 404, 201, 404, 201),
        lambda w: w.school.slot(student=w.learner.pk, starts_at="2027-03-03T15:00:00+00:00"),
    ),
    ("GET", "bookings/<id:pk>/"): Route(
        lambda w: f"bookings/{w.booking.pk}/", (200, 404, 404, 200, 404, 200)
    ),
    ("GET", "bookings/<id:pk>/invitation.ics"): Route(
        lambda w: f"bookings/{w.booking.pk}/invitation.ics", (200, 404, 404, 200, 404, 200)
    ),
    ("POST", "bookings/<id:pk>/cancel/"): Route(
        lambda w: f"bookings/{w.booking.pk}/cancel/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "bookings/<id:pk>/decline/"): Route(
        lambda w: f"bookings/{w.booking.pk}/decline/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "bookings/<id:pk>/move/"): Route(
        lambda w: f"bookings/{w.booking.pk}/move/",
        (200, 404, 404, 200, 404, 200),
        lambda w: {"starts_at": "2027-03-03T15:00:00+00:00"},
    ),
    ("POST", "bookings/<id:pk>/move-requests/"): Route(
        lambda w: f"bookings/{w.booking.pk}/move-requests/",
        (201, 404, 404, 403, 404, 201),
        lambda w: {"starts_at": "2027-03-03T15:00:00+00:00"},
    ),
    ("GET", "bookings/<id:pk>/intake/"): Route(
        lambda w: f"bookings/{w.booking.pk}/intake/", (200, 404, 404, 403, 404, 200)
    ),
    ("PATCH", "bookings/<id:pk>/intake/"): Route(
        lambda w: f"bookings/{w.booking.pk}/intake/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"pieces": "Study 4"},
    ),
    ("POST", "bookings/<id:pk>/wrap-up/"): Route(
        lambda w: f"bookings/{w.booking.pk}/wrap-up/",
        (404, 404, 404, 409, 404, 404),  # it opens when the lesson begins
        lambda w: {"attendance": "PRESENT", "note": {"goal": "Ten chords at 72"}},
    ),
    ("GET", "bookings/<id:pk>/brief/"): Route(
        lambda w: f"bookings/{w.booking.pk}/brief/", (404, 404, 404, 200, 404, 404)
    ),
    ("GET", "today/"): Route(lambda w: "today/?on=2027-03-05", (403, 403, 403, 200, 200, 403)),
    ("GET", "meetings/"): Route(lambda w: "meetings/", everybody(200)),
    ("POST", "meetings/"): Route(lambda w: "meetings/", (404, 404, 404, 201, 404, 201), class_body),
    ("GET", "meetings/<id:pk>/"): Route(
        lambda w: f"meetings/{w.booking.meeting_id}/", (200, 404, 404, 200, 404, 200)
    ),
    ("PATCH", "meetings/<id:pk>/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {"title": "Another"},
    ),
    ("POST", "meetings/<id:pk>/call-off/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/call-off/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {"reason": "A broken string"},
    ),
    ("POST", "meetings/<id:pk>/choose/"): Route(
        lambda w: f"meetings/{chosen_players(w).pk}/choose/",
        (404, 404, 404, 403, 404, 201),
        lambda w: {"student": w.learner.pk},
    ),
    ("POST", "meetings/<id:pk>/close-choice/"): Route(
        lambda w: f"meetings/{chosen_players(w).pk}/close-choice/", (404, 404, 404, 403, 404, 200)
    ),
    ("POST", "meetings/<id:pk>/duplicate/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/duplicate/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {"first_on": "2027-04-02", "wall_time": "18:00"},
    ),
    ("POST", "meetings/<id:pk>/reinstate/"): Route(
        lambda w: f"meetings/{w.off.pk}/reinstate/", (404, 404, 404, 200, 404, 200)
    ),
    ("GET", "meetings/<id:pk>/roster/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/roster/", (404, 404, 404, 200, 404, 200)
    ),
    ("POST", "meetings/<id:pk>/roster/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/roster/",
        (404, 404, 404, 403, 404, 201),
        lambda w: {"student": w.school.marlo.pk, "reason": "By telephone"},
    ),
    ("DELETE", "meetings/<id:pk>/roster/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/roster/",
        (404, 404, 404, 403, 404, 204),
        lambda w: {"booking": w.place.pk, "reason": "Ill"},
    ),
    ("GET", "meetings/<id:pk>/register/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/register/", (404, 404, 404, 200, 404, 200)
    ),
    ("PUT", "meetings/<id:pk>/register/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/register/",
        (404, 404, 404, 409, 404, 409),  # the register opens when the meeting starts
        lambda w: {"marks": [{"booking": w.place.pk, "attendance": "PRESENT"}]},
    ),
    ("GET", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/", (404, 404, 404, 200, 404, 200)
    ),
    ("POST", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.offer.meeting_id}/waiting-list/",
        (409, 404, 404, 404, 404, 409),  # they have an offer there
        lambda w: {"student": w.learner.pk},
    ),
    ("DELETE", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/?student={w.learner.pk}&as=listener",
        (204, 404, 404, 404, 404, 204),
    ),
    ("GET", "waiting-places/"): Route(lambda w: "waiting-places/", everybody(200)),
    ("GET", "offers/"): Route(lambda w: "offers/", everybody(200)),
    ("POST", "offers/<id:pk>/accept/"): Route(
        lambda w: f"offers/{w.offer.pk}/accept/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "offers/<id:pk>/decline/"): Route(
        lambda w: f"offers/{w.offer.pk}/decline/", (200, 404, 404, 403, 404, 200)
    ),
    ("GET", "move-requests/"): Route(lambda w: "move-requests/", everybody(200)),
    ("GET", "move-requests/<id:pk>/"): Route(
        lambda w: f"move-requests/{w.ask.pk}/", (200, 404, 404, 200, 404, 200)
    ),
    ("POST", "move-requests/<id:pk>/accept/"): Route(
        lambda w: f"move-requests/{w.ask.pk}/accept/", (403, 404, 404, 200, 404, 200)
    ),
    ("POST", "move-requests/<id:pk>/refuse/"): Route(
        lambda w: f"move-requests/{w.ask.pk}/refuse/",
        (403, 404, 404, 200, 404, 200),
        lambda w: {"reason": "A recital that day"},
    ),
    **AGENDAS,
    **GROUPS,
    **EXCHANGES,
    **OWED,
    **SCHOOL,
    **PRIVACY,
    **STATEMENTS,
    **PLANS,
    **PEOPLE,
    **SCHOOL_PEOPLE,
    **PROPOSED,
    **HOOKS,
    **TEACHING,
}
