"""The rows of the authorisation matrix about hours, instructors, terms, notes and feeds."""

from tests.functional.api.matrix_rows import (
    AVAILABILITY,
    TERM,
    WEEK,
    Route,
    everybody,
    note_body,
    tick_body,
    weekly_body,
)

# owner, stranger, guardian, teacher, foreign instructor, admin
TEACHING: dict[tuple[str, str], Route] = {
    ("GET", "teaching-hours/"): Route(
        lambda w: f"teaching-hours/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)
    ),
    ("PUT", "teaching-hours/"): Route(
        lambda w: f"teaching-hours/?instructor={w.school.ilse.pk}",
        (404, 404, 404, 200, 404, 200),
        lambda w: WEEK,
    ),
    ("GET", "teaching-hours/availability.ics"): Route(
        lambda w: f"teaching-hours/availability.ics?instructor={w.school.ilse.pk}",
        (404, 404, 404, 200, 404, 200),
    ),
    ("POST", "teaching-hours/proposal/"): Route(
        lambda w: "teaching-hours/proposal/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {"instructor": w.school.ilse.pk, "calendar": AVAILABILITY},
    ),
    ("GET", "extra-hours/"): Route(
        lambda w: f"extra-hours/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)
    ),
    ("POST", "extra-hours/"): Route(
        lambda w: "extra-hours/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {
            "instructor": w.school.ilse.pk,
            "on": "2027-03-20",
            "opens": "06:00",
            "closes": "07:00",
        },
    ),
    ("GET", "extra-hours/<id:pk>/"): Route(
        lambda w: f"extra-hours/{w.extra.pk}/", (404, 404, 404, 200, 404, 200)
    ),
    ("DELETE", "extra-hours/<id:pk>/"): Route(
        lambda w: f"extra-hours/{w.extra.pk}/", (404, 404, 404, 204, 404, 204)
    ),
    ("GET", "cleared-hours/"): Route(
        lambda w: f"cleared-hours/?instructor={w.school.ilse.pk}&from=2027-03-20&to=2027-03-21",
        (404, 404, 404, 200, 404, 200),
    ),
    ("POST", "cleared-hours/"): Route(
        lambda w: "cleared-hours/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {
            "instructor": w.school.ilse.pk,
            "starts_at": "2027-03-20T05:00:00Z",
            "ends_at": "2027-03-20T06:00:00Z",
            "decisions": [],
        },
    ),
    ("GET", "days-away/"): Route(
        lambda w: f"days-away/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)
    ),
    ("POST", "days-away/"): Route(
        lambda w: "days-away/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {
            "instructor": w.school.ilse.pk,
            "first_on": "2027-03-20",
            "last_on": "2027-03-21",
        },
    ),
    ("GET", "days-away/<id:pk>/"): Route(
        lambda w: f"days-away/{w.away.pk}/", (404, 404, 404, 200, 404, 200)
    ),
    ("DELETE", "days-away/<id:pk>/"): Route(
        lambda w: f"days-away/{w.away.pk}/", (404, 404, 404, 204, 404, 204)
    ),
    ("GET", "instructors/<id:pk>/room/"): Route(
        lambda w: f"instructors/{w.school.ilse.pk}/room/", (404, 404, 404, 200, 404, 200)
    ),
    ("PUT", "instructors/<id:pk>/room/"): Route(
        lambda w: f"instructors/{w.school.ilse.pk}/room/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {"room": "https://rooms.rowanmere.example/attic"},
    ),
    ("POST", "instructors/<id:pk>/dismiss/"): Route(
        lambda w: f"instructors/{w.school.wren.pk}/dismiss/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"call_off_reason": "They move on."},
    ),
    ("GET", "busy-calendars/"): Route(lambda w: "busy-calendars/", (200, 200, 200, 200, 200, 403)),
    ("POST", "busy-calendars/"): Route(
        lambda w: "busy-calendars/",
        (404, 404, 201, 404, 404, 404),
        lambda w: {
            "name": "Choir",
            "address": "https://calendar.rowanmere.example/a.ics",
            "student": w.school.posy.pk,
        },
    ),
    ("GET", "busy-calendars/<id:pk>/"): Route(
        lambda w: f"busy-calendars/{w.learners.pk}/", (200, 404, 404, 404, 404, 404)
    ),
    ("PATCH", "busy-calendars/<id:pk>/"): Route(
        lambda w: f"busy-calendars/{w.childs.pk}/",
        (404, 404, 200, 404, 404, 404),
        lambda w: {"name": "Choir"},
    ),
    ("DELETE", "busy-calendars/<id:pk>/"): Route(
        lambda w: f"busy-calendars/{w.teachers.pk}/", (404, 404, 404, 204, 404, 404)
    ),
    ("POST", "busy-calendars/<id:pk>/refresh/"): Route(
        lambda w: f"busy-calendars/{w.learners.pk}/refresh/", (200, 404, 404, 404, 404, 404)
    ),
    ("GET", "load-allowances/"): Route(
        lambda w: "load-allowances/", (403, 403, 403, 200, 200, 403)
    ),
    ("POST", "load-allowances/"): Route(
        lambda w: "load-allowances/",
        (403, 403, 403, 201, 201, 403),
        lambda w: {"starts_at": "2027-03-20T15:00:00+00:00"},
    ),
    ("GET", "terms/"): Route(lambda w: "terms/", everybody(200)),
    ("POST", "terms/"): Route(lambda w: "terms/", (403, 403, 403, 403, 403, 201), lambda w: TERM),
    ("GET", "terms/<id:pk>/"): Route(lambda w: f"terms/{w.weekly.term_id}/", everybody(200)),
    ("PATCH", "terms/<id:pk>/"): Route(
        lambda w: f"terms/{w.weekly.term_id}/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"name": "Early spring"},
    ),
    ("GET", "weekly-places/"): Route(lambda w: "weekly-places/", everybody(200)),
    ("POST", "weekly-places/"): Route(
        lambda w: "weekly-places/", (201, 404, 404, 404, 404, 201), weekly_body
    ),
    ("GET", "weekly-places/options/"): Route(
        lambda w: f"weekly-places/options/?moving={w.weekly.pk}", (200, 404, 404, 403, 404, 200)
    ),
    ("GET", "weekly-places/<id:pk>/"): Route(
        lambda w: f"weekly-places/{w.weekly.pk}/", (200, 404, 404, 200, 404, 200)
    ),
    ("POST", "weekly-places/<id:pk>/leave/"): Route(
        lambda w: f"weekly-places/{w.weekly.pk}/leave/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "weekly-places/<id:pk>/move/"): Route(
        lambda w: f"weekly-places/{w.weekly.pk}/move/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"weekday": "TH", "wall_time": "12:00"},
    ),
    ("GET", "assessments/"): Route(lambda w: "assessments/", (403, 403, 403, 200, 200, 403)),
    ("POST", "assessments/"): Route(
        lambda w: "assessments/", (403, 403, 403, 201, 404, 403), note_body
    ),
    ("GET", "assessments/<id:pk>/"): Route(
        lambda w: f"assessments/{w.draft.pk}/", (404, 404, 404, 200, 404, 404)
    ),
    ("PATCH", "assessments/<id:pk>/"): Route(
        lambda w: f"assessments/{w.draft.pk}/",
        (404, 404, 404, 200, 404, 404),
        lambda w: {"goal": "Study 5"},
    ),
    ("POST", "assessments/<id:pk>/adopt-level/"): Route(
        lambda w: f"assessments/{w.released.pk}/adopt-level/", (404, 404, 404, 200, 404, 404)
    ),
    ("POST", "assessments/<id:pk>/release/"): Route(
        lambda w: f"assessments/{w.draft.pk}/release/", (404, 404, 404, 200, 404, 404)
    ),
    ("GET", "students/<id:pk>/assessments/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/",
        (200, 404, 404, 200, 404, 422),  # an admin says why
    ),
    ("POST", "students/<id:pk>/assessments/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/",
        (200, 404, 404, 200, 404, 200),
        lambda w: {"reason": "A question"},
    ),
    ("GET", "students/<id:pk>/assessments/latest/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/latest/",
        (200, 404, 404, 200, 404, 422),  # an admin says why
    ),
    ("POST", "students/<id:pk>/assessments/latest/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/latest/",
        (200, 404, 404, 200, 404, 200),
        lambda w: {"reason": "A question"},
    ),
    ("GET", "students/<id:pk>/hours/"): Route(
        lambda w: f"students/{w.learner.pk}/hours/", (200, 404, 404, 404, 404, 200)
    ),
    ("PUT", "students/<id:pk>/hours/"): Route(
        lambda w: f"students/{w.learner.pk}/hours/",
        (200, 404, 404, 404, 404, 200),
        lambda w: {"wishes": [], "school": None},
    ),
    ("GET", "students/<id:pk>/practice/"): Route(
        lambda w: f"students/{w.learner.pk}/practice/", (200, 404, 404, 404, 404, 404)
    ),
    ("POST", "students/<id:pk>/practice/tick/"): Route(
        lambda w: f"students/{w.learner.pk}/practice/tick/",
        (200, 404, 404, 404, 404, 404),
        tick_body,
    ),
    ("POST", "students/<id:pk>/practice/untick/"): Route(
        lambda w: f"students/{w.learner.pk}/practice/untick/",
        (200, 404, 404, 404, 404, 404),
        tick_body,
    ),
    ("GET", "feeds/"): Route(lambda w: "feeds/", everybody(200)),
    ("POST", "feeds/"): Route(lambda w: "feeds/", everybody(201), lambda w: {"name": "Tablet"}),
    ("GET", "feeds/<id:pk>/"): Route(
        lambda w: f"feeds/{w.feed.pk}/", (200, 404, 404, 404, 404, 404)
    ),
    ("DELETE", "feeds/<id:pk>/"): Route(
        lambda w: f"feeds/{w.feed.pk}/", (204, 404, 404, 404, 404, 404)
    ),
    ("POST", "feeds/<id:pk>/renew/"): Route(
        lambda w: f"feeds/{w.feed.pk}/renew/", (200, 404, 404, 404, 404, 404)
    ),
}
