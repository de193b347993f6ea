"""What no general way provokes: for one verb, one address and one status, a request that is
answered so.
"""

from collections.abc import Callable
from datetime import timedelta

from tests.cast import NOW
from tests.functional.api import ways
from tests.functional.api.client import Reply
from tests.functional.api.world import World

Way = Callable[[World], Reply]

PAST = (NOW - timedelta(days=1)).isoformat()

_CLASS = {"title": "New", "places": 3}

OWN_WAYS: dict[tuple[str, str, int], Way] = {
    ("DELETE", "invitations/<id:pk>/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).delete(f"invitations/{w.invited.pk}/")
    ),
    ("DELETE", "meetings/<id:pk>/waiting-list/", 409): lambda w: ways.twice(
        lambda: ways.owner(w).delete(f"meetings/{w.meeting.pk}/waiting-list/?as=player")
    ),
    ("DELETE", "tokens/current/", 204): ways.signs_out,
    ("GET", "bookings/<id:pk>/invitation.ics", 409): lambda w: ways.owner(w).get(
        f"bookings/{w.offer.pk}/invitation.ics"
    ),
    ("GET", "busy-calendars/", 404): lambda w: ways.owner(w).get(
        f"busy-calendars/?student={w.school.marlo.pk}"
    ),
    ("GET", "days-away/", 403): lambda w: ways.owner(w).get("days-away/"),
    ("GET", "extra-hours/", 403): lambda w: ways.owner(w).get("extra-hours/"),
    ("GET", "teaching-hours/", 403): lambda w: ways.owner(w).get("teaching-hours/"),
    ("GET", "teaching-hours/availability.ics", 403): lambda w: ways.owner(w).get(
        "teaching-hours/availability.ics"
    ),
    ("GET", "slots/", 404): lambda w: ways.owner(w).get(
        f"slots/?offering={w.school.consultation.pk}&student={w.school.marlo.pk}"
    ),
    ("GET", "students/", 404): lambda w: ways.teacher(w).get(
        f"students/?instructor={w.school.wren.pk}"
    ),
    ("GET", "slots/explain/", 404): lambda w: ways.owner(w).get(
        f"slots/explain/?offering={w.school.consultation.pk}&instructor={w.school.ilse.pk}"
        f"&starts_at=2027-03-03T15:00:00Z&student={w.school.marlo.pk}"
    ),
    ("GET", "students/<id:pk>/assessments/latest/", 422): lambda w: ways.admin(w).get(
        f"students/{w.school.noor.pk}/assessments/latest/"
    ),
    ("GET", "students/<id:pk>/assessments/", 422): lambda w: ways.admin(w).get(
        f"students/{w.school.noor.pk}/assessments/"
    ),
    ("PATCH", "assessments/<id:pk>/", 409): lambda w: ways.twice(
        lambda: ways.teacher(w).patch(
            f"assessments/{w.draft.pk}/", {"goal": "Study 6"}, key="again", match="*"
        )
    ),
    ("PATCH", "bookings/<id:pk>/intake/", 409): lambda w: ways.owner(w).patch(
        ways.ended(w) + "intake/", {"pieces": "Study 4"}, match="*"
    ),
    ("PATCH", "meetings/<id:pk>/", 409): ways.too_few_places,
    ("POST", "assessments/", 404): lambda w: ways.teacher(w).post(
        "assessments/", {"student": 999_999, "level": 4, "unit": 2}
    ),
    ("POST", "assessments/", 409): lambda w: ways.secret_again(
        ways.teacher(w), "assessments/", {"student": w.school.noor.pk, "level": 4, "unit": 2}
    ),
    ("POST", "assessments/<id:pk>/release/", 409): lambda w: ways.teacher(w).post(
        f"assessments/{w.released.pk}/release/", match="*"
    ),
    ("POST", "assessments/<id:pk>/adopt-level/", 409): lambda w: ways.teacher(w).post(
        f"assessments/{w.draft.pk}/adopt-level/", match="*"
    ),
    ("POST", "bookings/<id:pk>/wrap-up/", 200): ways.wrapped_up,
    ("POST", "bookings/<id:pk>/wrap-up/", 412): ways.unread_draft,
    ("POST", "bookings/", 409): lambda w: ways.owner(w).post(
        "bookings/", w.school.slot(starts_at=PAST)
    ),
    ("POST", "bookings/<id:pk>/cancel/", 409): lambda w: ways.owner(w).post(
        ways.ended(w) + "cancel/", match="*"
    ),
    ("POST", "bookings/<id:pk>/move-requests/", 409): lambda w: ways.owner(w).post(
        ways.ended(w) + "move-requests/", {"starts_at": "2027-03-03T03:00:00+00:00"}
    ),
    ("POST", "bookings/<id:pk>/move/", 409): lambda w: ways.owner(w).post(
        ways.ended(w) + "move/", {"starts_at": "2027-03-03T15:00:00+00:00"}, match="*"
    ),
    ("POST", "consents/<id:pk>/withdraw/", 409): ways.withdrawn_again,
    ("POST", "days-away/", 409): lambda w: ways.teacher(w).post(
        "days-away/", {"first_on": "2027-03-05", "last_on": "2027-03-05"}
    ),
    ("POST", "extra-hours/", 409): lambda w: ways.teacher(w).post(
        "extra-hours/", {"on": "2027-02-01", "opens": "06:00", "closes": "07:00"}
    ),
    ("POST", "feeds/", 404): lambda w: ways.owner(w).post(
        "feeds/", {"name": "Work", "instructor": w.school.ilse.pk}
    ),
    ("POST", "feeds/", 409): lambda w: ways.secret_again(
        ways.owner(w), "feeds/", {"name": "Tablet"}
    ),
    ("POST", "feeds/<id:pk>/renew/", 409): lambda w: ways.secret_again(
        ways.owner(w), f"feeds/{w.feed.pk}/renew/"
    ),
    ("POST", "instructors/<id:pk>/dismiss/", 409): lambda w: ways.admin(w).post(
        f"instructors/{w.school.ilse.pk}/dismiss/", {}
    ),
    ("POST", "invitations/", 404): lambda w: ways.invited(w, 999_999),
    ("POST", "invitations/", 409): lambda w: ways.invited(w, w.school.noor.pk),
    ("POST", "load-allowances/", 409): lambda w: ways.teacher(w).post(
        "load-allowances/", {"starts_at": PAST}
    ),
    ("POST", "meetings/", 409): lambda w: ways.teacher(w).post(
        "meetings/", {**_CLASS, "offering": w.school.group.pk, "starts_at": PAST}
    ),
    ("POST", "meetings/<id:pk>/call-off/", 409): lambda w: ways.teacher(w).post(
        ways.off(w) + "call-off/", {"reason": "A broken string"}, match="*"
    ),
    ("POST", "meetings/<id:pk>/reinstate/", 409): lambda w: ways.teacher(w).post(
        f"meetings/{w.meeting.pk}/reinstate/", match="*"
    ),
    ("POST", "meetings/<id:pk>/roster/", 409): ways.full_roster,
    ("POST", "meetings/<id:pk>/roster/", 428): ways.exception_without_version,
    ("POST", "meetings/<id:pk>/waiting-list/", 201): ways.joins,
    ("POST", "move-requests/<id:pk>/accept/", 409): lambda w: ways.answered(w, "accept/"),
    ("POST", "move-requests/<id:pk>/refuse/", 409): lambda w: ways.answered(w, "refuse/"),
    ("POST", "offers/<id:pk>/accept/", 409): lambda w: ways.twice(
        lambda: ways.owner(w).post(f"offers/{w.offer.pk}/accept/")
    ),
    ("POST", "offers/<id:pk>/decline/", 409): lambda w: ways.twice(
        lambda: ways.owner(w).post(f"offers/{w.offer.pk}/decline/")
    ),
    ("POST", "bookings/<id:pk>/decline/", 409): lambda w: ways.owner(w).post(
        ways.ended(w) + "decline/", match="*"
    ),
    ("POST", "proposals/", 403): lambda w: ways.proposes(w, instructor=w.school.wren.pk),
    ("POST", "proposals/", 409): lambda w: ways.proposes(w, starts=[PAST]),
    ("POST", "proposals/<id:pk>/take/", 409): lambda w: ways.proposal_again(w, "take/"),
    ("POST", "proposals/<id:pk>/decline/", 409): lambda w: ways.proposal_again(w, "decline/"),
    ("POST", "proposals/<id:pk>/withdraw/", 409): lambda w: ways.proposal_again(w, "withdraw/"),
    ("POST", "students/<id:pk>/leave/", 409): lambda w: ways.admin(w).post(
        f"students/{w.school.noor.pk}/leave/", {}
    ),
    ("POST", "students/<id:pk>/practice/tick/", 409): lambda w: ways.ticked_too_late(w, "tick/"),
    ("POST", "students/<id:pk>/practice/untick/", 409): lambda w: ways.ticked_too_late(
        w, "untick/"
    ),
    ("POST", "students/<id:pk>/assessments/latest/", 409): lambda w: ways.secret_again(
        ways.admin(w), f"students/{w.school.noor.pk}/assessments/latest/", {"reason": "A question"}
    ),
    ("POST", "students/<id:pk>/assessments/", 409): lambda w: ways.secret_again(
        ways.admin(w), f"students/{w.school.noor.pk}/assessments/", {"reason": "A question"}
    ),
    ("POST", "tokens/", 201): lambda w: ways.signs_in(w.school.noor.user),
    ("POST", "tokens/", 409): ways.signs_in_everywhere,
    ("POST", "tokens/", 403): ways.signs_in_without_a_second_factor,
    ("POST", "weekly-places/", 409): ways.weekly_again,
    ("POST", "weekly-places/<id:pk>/leave/", 409): lambda w: ways.twice(
        lambda: ways.owner(w).post(f"weekly-places/{w.weekly.pk}/leave/", match="*")
    ),
    ("POST", "weekly-places/<id:pk>/move/", 409): ways.weekly_to_the_night,
    ("PUT", "meetings/<id:pk>/register/", 200): ways.marked,
}
