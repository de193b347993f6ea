"""The authorisation matrix: every verb at every address of the API, and the status each kind of person gets there."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from itertools import count
from typing import Any

from accounts.models import Student, User, Welcome
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import (
    Assessment,
    Booking,
    BusyCalendar,
    DaysAway,
    ExtraHours,
    Feed,
    Meeting,
    MoveRequest,
    WaitingPlace,
    WeeklyPlace,
)
from tests import cast
from tests.cast import NOW
from tests.functional.api.school import FRIDAY, School
from tests.weekly_school import weekly_place

CANARY = "canary-9c1f"


_number = count(1)


def _nobody(_: Any) -> dict[str, Any]:
    """Somebody else each time: wrong passwords at one account are soon too many."""
    return {"email": f"x{next(_number)}@rowanmere.example", "password": "x"}


@dataclass(frozen=True, slots=True)
class World:
    """One of everything, all of it the learner's and Ilse's; Posy waits, Marlo and Wren have
    nothing to do with it.

    `owner` is who acts for the learner. Noor, the usual one, is of age and has an account: Orsola
    answered for her once.
    """

    school: School
    learner: Student
    owner: User
    orsola: User
    removed: User
    booking: Booking
    meeting: Meeting
    off: Meeting
    place: Booking
    waiting: WaitingPlace
    offer: Booking
    extra: ExtraHours
    away: DaysAway
    draft: Assessment
    released: Assessment
    ask: MoveRequest
    feed: Feed
    weekly: WeeklyPlace
    hers: BusyCalendar
    childs: BusyCalendar
    teachers: BusyCalendar
    invited: Welcome

    def people(self) -> dict[str, User | None]:
        return {
            "nobody": None,
            "owner": self.owner,
            "stranger": self.school.marlo.user,
            "guardian": self.school.hedda,
            "teacher": self.school.ilse.user,
            "foreign instructor": self.school.wren.user,
            "admin": self.school.dag,
            "guardian of a grown child": self.orsola,
            "removed guardian": self.removed,
        }


def make_world(school: School, *, has_account: bool = True) -> World:
    """One of everything. The learner is of age: Noor, or Lark, who has no account yet and a
    guardian who acts.
    """
    orsola = cast.make_user("Orsola Reed")
    removed = cast.make_user("Hester Vale")
    if has_account:
        learner, owner = school.noor, cast.user_of(school.noor)
        learner.adult_on = NOW.date() - timedelta(days=28)
        learner.save()
        learner.guardianships.create(guardian=orsola)
    else:
        learner = cast.make_minor(
            "Lark Reed", "America/New_York", guardian=orsola, level=4, adult_on=NOW.date()
        )
        owner = orsola
    learner.guardianships.create(guardian=removed).delete()
    own = {"owner": owner} if has_account else {"student": learner}
    one_on_one = cast.make_meeting(school.consultation, school.ilse, FRIDAY)
    meeting = school.class_on(places=2)
    booking = cast.make_booking(one_on_one, learner)
    other = school.class_on(places=1, starts_at=FRIDAY + timedelta(days=9))
    draft = cast.make_assessment(learner, school.ilse, obstacle="Draft")
    draft.private_remarks = f"{CANARY} draft"
    draft.save()
    return World(
        school=school,
        learner=learner,
        owner=owner,
        orsola=orsola,
        removed=removed,
        booking=booking,
        meeting=meeting,
        off=school.class_on(starts_at=FRIDAY + timedelta(days=12), status="CANCELLED"),
        place=cast.make_booking(meeting, learner),
        waiting=meeting.waiting.create(
            student=learner, place_kind=PlaceKind.LISTENER, joined_at=NOW
        ),
        offer=cast.make_booking(
            other, learner, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=20)
        ),
        extra=school.ilse.extra_hours.create(
            on=FRIDAY.date(), opens=0, closes=60, time_zone="Europe/Dublin"
        ),
        away=school.ilse.days_away.create(
            first_on=FRIDAY.date(), last_on=FRIDAY.date(), time_zone="Europe/Dublin"
        ),
        draft=draft,
        released=school.released(learner, school.ilse, remarks=f"{CANARY} released", level=5),
        ask=booking.move_requests.create(
            asked_by=owner, starts_at=FRIDAY - timedelta(days=2), asked_at=NOW
        ),
        feed=Feed.objects.create(
            owner=owner,
            label="Phone",
            secret_digest="0" * 64,
            revised_at=NOW,
            opened_at=NOW,
        ),
        weekly=weekly_place(school.ilse, learner),
        hers=busy_calendar(**own),
        childs=busy_calendar(student=school.posy),
        teachers=busy_calendar(owner=school.ilse.user),
        invited=Welcome.objects.create(
            email="robin@marsh.example",
            name="Robin Marsh",
            as_admin=True,
            secret_digest="w" * 64,
            sent_at=NOW,
            good_until=NOW + timedelta(days=14),
        ),
    )


def busy_calendar(**whose: Any) -> BusyCalendar:
    """A calendar at a secret address, never fetched."""
    calendar = BusyCalendar(
        name="Orchestra", host="calendar.rowanmere.example", added_at=NOW, next_at=NOW, **whose
    )
    calendar.address = f"https://calendar.rowanmere.example/{CANARY}-address.ics"
    calendar.save()
    return calendar


ROLES = ("owner", "stranger", "guardian", "teacher", "foreign instructor", "admin")
ONCE_GUARDIANS = ("guardian of a grown child", "removed guardian")
"""Whose rights have ended: they get what a stranger gets, and where a stranger acts for themselves,
what `NO_STUDENT` says.
"""
NO_STUDENT = {
    ("GET", "slots/"): 403,
    ("GET", "slots/explain/"): 403,
    ("GET", "busy-calendars/"): 403,
}
Cells = tuple[int, int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Route:
    """One verb at one address: its path, its body, and the status for each of ROLES. Nobody signed in is always 401."""

    path: Callable[[World], str]
    cells: Cells
    body: Callable[[World], Any] = lambda world: None


def _all(status: int) -> Cells:
    return (status,) * 6


def _note(world: World) -> dict[str, Any]:
    return {"student": world.learner.pk, "level": 4, "unit": 2}


def _class(world: World) -> dict[str, Any]:
    when = (FRIDAY + timedelta(days=20)).isoformat()
    return {
        "offering": world.school.group.pk,
        "instructor": world.school.ilse.pk,
        "title": "New",
        "places": 3,
        "starts_at": when,
    }


TERM = {
    "name": "Summer 2027",
    "first_on": "2027-04-19",
    "last_on": "2027-07-09",
    "lessons_promised": 11,
}


def _weekly(world: World) -> dict[str, Any]:
    at = {"weekday": "TH", "wall_time": "12:00"}
    place = world.weekly
    whose = {
        "term": place.term_id,
        "offering": place.offering_id,
        "instructor": place.instructor_id,
        "student": place.student_id,
    }
    return {**whose, **at}


AVAILABILITY = """BEGIN:VCALENDAR
BEGIN:VAVAILABILITY
BEGIN:AVAILABLE
DTSTART;TZID=Europe/Dublin:20270301T153000
DTEND;TZID=Europe/Dublin:20270301T203000
RRULE:FREQ=WEEKLY
END:AVAILABLE
END:VAVAILABILITY
END:VCALENDAR
"""
WEEK = {"time_zone": "Europe/Dublin", "windows": []}
# owner, stranger, guardian, teacher, foreign instructor, admin
MATRIX: dict[tuple[str, str], Route] = {
    ("POST", "tokens/"): Route(lambda w: "tokens/", _all(401), _nobody),
    ("DELETE", "tokens/current/"): Route(lambda w: "tokens/current/", _all(404)),
    ("GET", "me/"): Route(lambda w: "me/", _all(200)),
    ("PATCH", "me/"): Route(lambda w: "me/", _all(200), lambda w: {"name": "Somebody Else"}),
    ("GET", "consents/"): Route(lambda w: "consents/", _all(200)),
    ("GET", "consents/<id:pk>/"): Route(
        lambda w: f"consents/{w.school.posy.guardianships.get().pk}/",
        (404, 404, 200, 404, 404, 404),
    ),
    ("POST", "consents/<id:pk>/withdraw/"): Route(
        lambda w: f"consents/{w.school.posy.guardianships.get().pk}/withdraw/",
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
    ("POST", "students/<id:pk>/leave/"): Route(
        lambda w: f"students/{w.school.marlo.pk}/leave/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"reason": "Done."},
    ),
    ("GET", "offerings/"): Route(lambda w: "offerings/", _all(200)),
    ("GET", "slots/"): Route(
        lambda w: f"slots/?offering={w.school.consultation.pk}", (200, 200, 200, 403, 403, 422)
    ),
    ("GET", "slots/explain/"): Route(
        lambda w: (
            f"slots/explain/?offering={w.school.consultation.pk}&instructor={w.school.ilse.pk}&starts_at=2027-03-03T15:00:00Z"
        ),
        (200, 200, 200, 200, 403, 200),
    ),
    ("GET", "bookings/"): Route(lambda w: "bookings/", _all(200)),
    ("POST", "bookings/"): Route(
        lambda w: "bookings/",
        (201, 404, 404, 404, 404, 201),
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
    ("POST", "bookings/<id:pk>/move/"): Route(
        lambda w: f"bookings/{w.booking.pk}/move/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"starts_at": "2027-03-03T15:00:00+00:00"},
    ),
    ("POST", "bookings/<id:pk>/move-requests/"): Route(
        lambda w: f"bookings/{w.booking.pk}/move-requests/",
        (201, 404, 404, 403, 404, 201),
        lambda w: {"starts_at": "2027-03-03T15:00:00+00:00"},
    ),
    ("PATCH", "bookings/<id:pk>/intake/"): Route(
        lambda w: f"bookings/{w.booking.pk}/intake/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"pieces": "Study 4"},
    ),
    ("GET", "bookings/<id:pk>/brief/"): Route(
        lambda w: f"bookings/{w.booking.pk}/brief/", (404, 404, 404, 200, 404, 404)
    ),
    ("GET", "meetings/"): Route(lambda w: "meetings/", _all(200)),
    ("POST", "meetings/"): Route(lambda w: "meetings/", (404, 404, 404, 201, 404, 201), _class),
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
        (409, 404, 404, 404, 404, 409),  # she has an offer there
        lambda w: {"student": w.learner.pk},
    ),
    ("DELETE", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/?student={w.learner.pk}&as=listener",
        (204, 404, 404, 404, 404, 204),
    ),
    ("GET", "waiting-places/"): Route(lambda w: "waiting-places/", _all(200)),
    ("GET", "offers/"): Route(lambda w: "offers/", _all(200)),
    ("POST", "offers/<id:pk>/accept/"): Route(
        lambda w: f"offers/{w.offer.pk}/accept/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "offers/<id:pk>/decline/"): Route(
        lambda w: f"offers/{w.offer.pk}/decline/", (200, 404, 404, 403, 404, 200)
    ),
    ("GET", "move-requests/"): Route(lambda w: "move-requests/", _all(200)),
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
        lambda w: {"call_off_reason": "She moves on."},
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
        lambda w: f"busy-calendars/{w.hers.pk}/", (200, 404, 404, 404, 404, 404)
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
        lambda w: f"busy-calendars/{w.hers.pk}/refresh/", (200, 404, 404, 404, 404, 404)
    ),
    ("GET", "load-allowances/"): Route(
        lambda w: "load-allowances/", (403, 403, 403, 200, 200, 403)
    ),
    ("POST", "load-allowances/"): Route(
        lambda w: "load-allowances/",
        (403, 403, 403, 201, 201, 403),
        lambda w: {"starts_at": "2027-03-20T15:00:00+00:00"},
    ),
    ("GET", "terms/"): Route(lambda w: "terms/", _all(200)),
    ("POST", "terms/"): Route(lambda w: "terms/", (403, 403, 403, 403, 403, 201), lambda w: TERM),
    ("GET", "terms/<id:pk>/"): Route(lambda w: f"terms/{w.weekly.term_id}/", _all(200)),
    ("PATCH", "terms/<id:pk>/"): Route(
        lambda w: f"terms/{w.weekly.term_id}/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"name": "Early spring"},
    ),
    ("GET", "weekly-places/"): Route(lambda w: "weekly-places/", _all(200)),
    ("POST", "weekly-places/"): Route(
        lambda w: "weekly-places/", (201, 404, 404, 404, 404, 201), _weekly
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
        lambda w: "assessments/", (403, 403, 403, 201, 404, 403), _note
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
    ("GET", "students/<id:pk>/assessments/latest/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/latest/",
        (200, 404, 404, 200, 404, 422),  # an admin says why
    ),
    ("POST", "students/<id:pk>/assessments/latest/"): Route(
        lambda w: f"students/{w.learner.pk}/assessments/latest/",
        (200, 404, 404, 200, 404, 200),
        lambda w: {"reason": "A question"},
    ),
    ("GET", "feeds/"): Route(lambda w: "feeds/", _all(200)),
    ("POST", "feeds/"): Route(lambda w: "feeds/", _all(201), lambda w: {"name": "Tablet"}),
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
