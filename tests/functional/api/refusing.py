"""What no general way provokes: for one verb, one address and one status, a request that is
answered so.
"""

from collections.abc import Callable
from datetime import timedelta

from tests.cast import NOW
from tests.functional.api import ways, ways_of_people, ways_of_statements, ways_owed
from tests.functional.api.clearing import clears
from tests.functional.api.client import Reply
from tests.functional.api.matrix_rows import chosen_players
from tests.functional.api.ways_of_hooks import HOOKS_REFUSED
from tests.functional.api.ways_of_privacy import PRIVACY_REFUSED
from tests.functional.api.world import World

Way = Callable[[World], Reply]

PAST = (NOW - timedelta(days=1)).isoformat()

_CLASS = {"title": "New", "places": 3}


def _excepted(world: World, how: str) -> Reply:
    """An admin's exception for a student who does not wait, in a meeting with free places."""
    asked = {"student": world.school.marlo.pk, "reason": "By telephone"}
    path = f"meetings/{world.uncertain.pk}/waiting-list/{how}"
    return ways.admin(world).post(path, asked, match=None if how == "add/" else "*")


OWN_WAYS: dict[tuple[str, str, int], Way] = {
    **ways_owed.OWED_WAYS,
    **HOOKS_REFUSED,
    **ways_of_people.PEOPLE_WAYS,
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
    ("GET", "cleared-hours/", 403): lambda w: ways.owner(w).get(
        "cleared-hours/?from=2027-03-20&to=2027-03-21"
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
    ("PATCH", "offerings/<id:pk>/", 409): lambda w: ways.admin(w).patch(
        f"offerings/{w.school.consultation.pk}/", {"minutes": 90}, match="*"
    ),
    ("POST", "policies/", 409): lambda w: ways.admin(w).post(
        "policies/", {"in_force_at": PAST}, match="*"
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
    ("POST", "cleared-hours/", 409): lambda w: clears(w, "2027-02-01"),
    ("POST", "cleared-hours/", 412): lambda w: clears(w, "2027-03-20", meeting=999_999),
    ("POST", "days-away/", 409): lambda w: ways.teacher(w).post(
        "days-away/", {"first_on": "2027-03-05", "last_on": "2027-03-05"}
    ),
    ("POST", "days-away/", 412): lambda w: ways.teacher(w).post(
        "days-away/",
        {
            "first_on": "2027-03-20",
            "last_on": "2027-03-20",
            "decisions": [{"meeting": 999_999, "remedy": "call-off"}],
        },
    ),
    ("POST", "guardianships/<id:pk>/bar/", 409): lambda w: ways.barred_again(w, "bar/"),
    ("POST", "guardianships/<id:pk>/lift-bar/", 409): lambda w: ways.barred_again(w, "lift-bar/"),
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
    ("POST", "meetings/<id:pk>/choose/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).post(
            f"meetings/{chosen_players(w).pk}/choose/", {"student": w.learner.pk}, match="*"
        )
    ),
    ("POST", "meetings/<id:pk>/close-choice/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).post(f"meetings/{chosen_players(w).pk}/close-choice/", match="*")
    ),
    ("POST", "meetings/<id:pk>/duplicate/", 409): lambda w: ways.teacher(w).post(
        f"meetings/{w.meeting.pk}/duplicate/",
        {"first_on": "2027-02-01", "wall_time": "18:00"},
        match="*",
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
    ("POST", "plans/", 404): ways.asks_who_is_next_for_nobody,
    ("PUT", "weekly-places/<id:pk>/wishes/", 409): ways.wishes_of_a_place_given_up,
    ("POST", "exchanges/<id:pk>/accept/", 409): lambda w: ways.exchange_again(w, "accept/"),
    ("POST", "exchanges/<id:pk>/decline/", 409): lambda w: ways.exchange_again(w, "decline/"),
    ("POST", "plans/", 409): ways.plans_what_is_over,
    ("POST", "statements/", 404): lambda w: ways_of_statements.states(w, instructor=999_999),
    ("GET", "statements/", 404): lambda w: ways.admin(w).get("statements/?instructor=999999"),
    ("POST", "statements/", 409): lambda w: ways_of_statements.states(w, last_on="2026-01-01"),
    ("POST", "statements/<id:pk>/correct/", 409): ways_of_statements.corrected_again,
    ("POST", "plans/<id:pk>/stop/", 409): lambda w: ways.admin(w).post(
        f"plans/{w.plan.pk}/stop/", match="*"
    ),
    ("POST", "plans/<id:pk>/adopt/", 409): lambda w: ways.admin(w).post(
        f"plans/{w.solving.pk}/adopt/", match="*"
    ),
    ("POST", "plans/<id:pk>/ask-substitutes/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).post(f"plans/{w.covering.pk}/ask-substitutes/", match="*")
    ),
    ("POST", "cover-questions/<id:pk>/answer/", 409): ways.covers_after_all,
    ("POST", "plans/<id:pk>/discard/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).post(f"plans/{w.plan.pk}/discard/", match="*")
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
    **PRIVACY_REFUSED,
    ("POST", "tokens/", 201): lambda w: ways.signs_in(w.school.noor.user),
    ("POST", "tokens/", 409): ways.signs_in_everywhere,
    ("POST", "tokens/", 403): ways.signs_in_without_a_second_factor,
    ("POST", "weekly-places/", 409): ways.weekly_again,
    ("POST", "weekly-places/<id:pk>/leave/", 409): lambda w: ways.twice(
        lambda: ways.owner(w).post(f"weekly-places/{w.weekly.pk}/leave/", match="*")
    ),
    ("POST", "weekly-places/<id:pk>/move/", 409): ways.weekly_to_the_night,
    ("POST", "meetings/<id:pk>/waiting-list/add/", 409): lambda w: _excepted(w, "add/"),
    ("POST", "meetings/<id:pk>/waiting-list/hold-next/", 409): lambda w: _excepted(w, "hold-next/"),
    ("POST", "meetings/<id:pk>/waiting-list/let-go/", 409): lambda w: _excepted(w, "let-go/"),
    ("POST", "meetings/<id:pk>/waiting-list/remove/", 409): lambda w: _excepted(w, "remove/"),
    ("PUT", "meetings/<id:pk>/minimum/", 409): lambda w: ways.teacher(w).put(
        ways.off(w) + "minimum/", {"minimum": 1, "decide_by": PAST}, match="*"
    ),
    ("POST", "meetings/<id:pk>/it-runs/", 409): lambda w: ways.admin(w).post(
        f"meetings/{w.meeting.pk}/it-runs/", match="*"
    ),
    ("PUT", "meetings/<id:pk>/agenda/", 409): ways.plays_too_long,
    ("PUT", "bookings/<id:pk>/leaves-by/", 409): ways.leaves_what_is_called_off,
    ("PUT", "meetings/<id:pk>/register/", 200): ways.marked,
}
