"""Who is let through to which page, and where each page lies in the tests' school."""

from datetime import timedelta

from accounts.models import Welcome
from bookings.models import (
    BusyCalendar,
    ExtraHours,
    Feed,
    MoveRequest,
)
from bookings.pages.urls import urlpatterns
from tests.cast import NOW, make_assessment, make_booking, make_meeting
from tests.functional.pages.school import School
from tests.school.proposals import proposed_time
from tests.school.weekly import weekly_place

STUDENT, OTHER, GUARDIAN, TEACHER, FOREIGN, ADMIN = (
    "student",
    "other student",
    "guardian",
    "instructor",
    "foreign instructor",
    "admin",
)
GROWN, REMOVED, BARRED = "guardian of a grown child", "removed guardian", "barred guardian"
LEARNERS = {STUDENT, OTHER, GUARDIAN}
ONCE_GUARDIANS = {GROWN, REMOVED, BARRED}
EVERYBODY = {*LEARNERS, TEACHER, FOREIGN, ADMIN, *ONCE_GUARDIANS}
# route -> who is let through; the objects are the student's, taught by the instructor.
MATRIX = {
    "home": EVERYBODY,
    "me": EVERYBODY,
    "answer-zone": EVERYBODY,
    "calendars": EVERYBODY,
    "busy-calendars": {*LEARNERS, TEACHER, FOREIGN},
    "remove-busy-calendar": {STUDENT},
    "refresh-busy-calendar": {STUDENT},
    "meetings": EVERYBODY,
    "people": {ADMIN},
    "wording": {ADMIN},
    "withdraw-invitation": {ADMIN},
    "account": {ADMIN},
    "admin-role": {ADMIN},
    "close-account": {ADMIN},
    "reopen-account": {ADMIN},
    "dismiss": {ADMIN},
    "teach-again": {ADMIN},
    "new-student": {ADMIN},
    "student": {ADMIN},
    "regular-instructor": {ADMIN},
    "student-leaves": {ADMIN},
    "student-returns": {ADMIN},
    "remove-guardian": {ADMIN},
    "bar-guardian": {ADMIN},
    "lift-bar": {ADMIN},
    "give-consent": {GUARDIAN},
    "withdraw-consent": {GUARDIAN},
    "reset-second-factor": {ADMIN},
    "today": {TEACHER, FOREIGN},
    "day-briefs": {TEACHER, FOREIGN},
    "times": LEARNERS,
    "why": {STUDENT, ADMIN},
    "book": {STUDENT, ADMIN},
    "my-lessons": LEARNERS,
    "practice": LEARNERS,
    "tick-practice": LEARNERS,
    "ask-for-consent": {STUDENT, ADMIN},
    "weekly": LEARNERS,
    "take-weekly": {STUDENT, ADMIN},
    "leave-weekly": {STUDENT, ADMIN},
    "move-weekly": {STUDENT, ADMIN},
    "terms": {ADMIN},
    "term": {ADMIN},
    "move": {STUDENT, ADMIN},
    "ask-to-move": {STUDENT, ADMIN},
    "change-meeting": {STUDENT, ADMIN},
    "cancel": {STUDENT, ADMIN},
    "decline": {STUDENT, ADMIN},
    "intake": {STUDENT, ADMIN},
    "answer": {STUDENT, ADMIN},
    "assessment": {STUDENT, TEACHER},
    "history": {STUDENT, TEACHER, ADMIN},
    "techniques": {ADMIN},
    "offering-techniques": {ADMIN},
    "rewrite": {TEACHER},
    "release": {TEACHER},
    "adopt-level": {TEACHER},
    "hours": {TEACHER, ADMIN},
    "add-extra-hours": {TEACHER, ADMIN},
    "remove-extra-hours": {TEACHER, ADMIN},
    "go-away": {TEACHER, ADMIN},
    "come-back": {TEACHER, ADMIN},
    "reinstate-days": {TEACHER, ADMIN},
    "change-room": {TEACHER, ADMIN},
    "hours-file": {TEACHER, ADMIN},
    "propose-hours": {TEACHER, ADMIN},
    "adopt-hours": {TEACHER, ADMIN},
    "wrap-up": {TEACHER},
    "release-wrap-up": {TEACHER},
    "brief": {TEACHER},
    "write-assessment": {TEACHER},
    "new-meeting": {ADMIN},
    "meeting": {*LEARNERS, TEACHER, ADMIN},
    "change-group-meeting": {TEACHER, ADMIN},
    "take-place": {STUDENT, ADMIN},
    "waiting-list": {STUDENT, ADMIN},
    "register": {TEACHER, ADMIN},
    "change-roster": {ADMIN},
    "call-off": {TEACHER, ADMIN},
    "reinstate": {TEACHER, ADMIN},
    "my-students": {TEACHER, FOREIGN, ADMIN},
    "due-a-review": {TEACHER, FOREIGN, ADMIN},
    "move-requests": {TEACHER, FOREIGN, ADMIN},
    "answer-move-request": {TEACHER, ADMIN},
    "propose-other-times": {TEACHER, ADMIN},
    "proposed-times": {TEACHER, FOREIGN, ADMIN},
    "answer-times": {STUDENT, TEACHER, ADMIN},
    "withdraw-times": {TEACHER, ADMIN},
    "propose-times": {TEACHER, ADMIN},
    "renew-feed": {STUDENT},
    "revoke-feed": {STUDENT},
}
BY_SECRET = {"welcome", "consent"}  # opened by whoever holds the letter: test_pages_people


def addresses(school: School) -> dict[str, str]:
    note = make_assessment(
        school.noor,
        school.ilse,
        state="released",
        released_at=NOW,
        practice=[{"what": "Scales in thirds", "minutes": 20, "is_review": False}],
    )
    note.ticks.create(item=0, on=NOW.date(), ticked_at=NOW)
    feed = Feed.objects.create(
        owner=school.noor.user, label="Phone", secret_digest="x", revised_at=NOW, opened_at=NOW
    )
    extra = ExtraHours.objects.create(
        instructor=school.ilse, on=NOW.date(), opens=600, closes=660, time_zone="Europe/Dublin"
    )
    away = school.ilse.days_away.create(
        first_on=NOW.date(), last_on=NOW.date(), time_zone="Europe/Dublin"
    )
    ids = {
        "booking_id": school.booking.pk,
        "note_id": note.pk,
        "meeting_id": school.circle.pk,
        "feed_id": feed.pk,
    }
    place = weekly_place(school.ilse, school.noor)
    ids |= {"place_id": place.pk, "term_id": place.term_id}
    calendar = BusyCalendar.objects.create(
        owner=school.noor.user, name="Orchestra", host="calendar.rowanmere.example", added_at=NOW
    )
    ids |= {"calendar_id": calendar.pk}
    asked = MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=NOW + timedelta(days=9),
        sequence=0,
        asked_at=NOW,
    )
    ids |= {"request_id": asked.pk}
    ids |= {"offering_id": school.consultation.pk}
    ids |= {"proposal_id": proposed_time(school.ilse, school.noor, school.consultation).proposed_id}
    school.noor.regular_instructor = school.ilse  # for an admin, who names no other
    school.noor.save()
    ids |= {"extra_id": extra.pk, "away_id": away.pk}
    invited = Welcome.objects.create(
        email="ida@rowanmere.example",
        name="Ida Quince",
        as_admin=True,
        secret_digest="w",
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    ids |= {"welcome_id": invited.pk, "user_id": school.wren.user_id, "student_id": school.noor.pk}
    ids |= {"guardianship_id": school.posy.guardianships.get().pk}
    found = {}
    for route in urlpatterns:
        if route.name in MATRIX:
            path = str(route.pattern)
            for name, pk in ids.items():
                path = path.replace(f"<int:{name}>", str(pk))
            found[route.name] = f"/{path}"
    found["reinstate"] = f"/meetings/{school.called_off().pk}/reinstate/"
    over = make_booking(
        make_meeting(school.consultation, school.ilse, NOW - timedelta(days=3, hours=4)),
        school.noor,
    )
    found["wrap-up"] = f"/wrap-up/{over.pk}/"
    found["release-wrap-up"] = f"/wrap-up/{over.pk}/release/"
    return found
