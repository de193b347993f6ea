"""Who is let through to which page, and where each page lies in the tests' school."""

from datetime import timedelta

from accounts.models import Welcome
from bookings.models import BusyCalendar, ExtraHours, Feed, MoveRequest
from bookings.pages.urls import urlpatterns
from tests.cast import NOW, make_assessment, make_booking, make_meeting
from tests.functional.pages.every_program import PROGRAMS, one_token, one_webhook
from tests.functional.pages.matrix_books import BOOKS
from tests.functional.pages.matrix_data import EMAIL_TROUBLES, OWN_DATA, trouble_pages
from tests.functional.pages.matrix_people import PEOPLE, of_files
from tests.functional.pages.roles import (
    ADMIN,
    EVERYBODY,
    FOREIGN,
    GUARDIAN,
    LEARNERS,
    STUDENT,
    TEACHER,
)
from tests.functional.pages.school import School
from tests.functional.pages.school_pages import SCHOOL_PAGES
from tests.school.covering import cover_question
from tests.school.exchanges import open_exchange
from tests.school.masterclasses import masterclass_place
from tests.school.owed import owed_from_before
from tests.school.plans import answered_plan
from tests.school.proposals import proposed_time
from tests.school.statements import statement_of
from tests.school.weekly import weekly_place

# route -> who is let through; the objects are the student's, taught by the instructor.
MATRIX = {
    **BOOKS,
    **OWN_DATA,
    **PEOPLE,
    **EMAIL_TROUBLES,
    **{route: {ADMIN} for route in (*SCHOOL_PAGES, *PROGRAMS)},
    "home": EVERYBODY,
    "me": EVERYBODY,
    "answer-zone": EVERYBODY,
    "calendars": EVERYBODY,
    "busy-calendars": {*LEARNERS, TEACHER, FOREIGN},
    "remove-busy-calendar": {STUDENT},
    "refresh-busy-calendar": {STUDENT},
    "meetings": EVERYBODY,
    "agenda": {STUDENT, TEACHER, ADMIN},
    "plans": {TEACHER, FOREIGN, ADMIN},
    "plan-a-group": {ADMIN},
    "plan-a-term": {ADMIN},
    "solve-again": {ADMIN},
    "cover-a-day": {ADMIN},
    "ask-substitutes": {ADMIN},
    "cover-questions": {TEACHER, FOREIGN},
    "answer-cover": {FOREIGN},
    "plan-who-next": {TEACHER, FOREIGN, ADMIN},
    "plan-exchanges": {ADMIN},
    "plan": {ADMIN},
    "stop-plan": {ADMIN},
    "adopt-plan": {ADMIN},
    "discard-plan": {ADMIN},
    "give-consent": {GUARDIAN},
    "withdraw-consent": {GUARDIAN},
    "needs": {ADMIN},
    "needs-of": {ADMIN},
    "school-day": {ADMIN},
    "today": {TEACHER, FOREIGN},
    "day-briefs": {TEACHER, FOREIGN},
    "times": LEARNERS,
    "why": {STUDENT, ADMIN},
    "book": {STUDENT, TEACHER, ADMIN},
    "my-lessons": LEARNERS,
    "student-hours": {STUDENT, ADMIN},
    "practice": LEARNERS,
    "tick-practice": LEARNERS,
    "ask-for-consent": {STUDENT, ADMIN},
    "weekly": LEARNERS,
    "take-weekly": {STUDENT, ADMIN},
    "leave-weekly": {STUDENT, ADMIN},
    "move-weekly": {STUDENT, ADMIN},
    "wish-for-times": {STUDENT, ADMIN},
    "answer-exchange": {STUDENT, ADMIN},
    "move": {STUDENT, TEACHER, ADMIN},
    "ask-to-move": {STUDENT, ADMIN},
    "change-meeting": {STUDENT, ADMIN},
    "cancel": {STUDENT, ADMIN},
    "decline": {STUDENT, ADMIN},
    "intake": {STUDENT, ADMIN},
    "leaves-by": {STUDENT, ADMIN},
    "answer": {STUDENT, ADMIN},
    "assessment": {STUDENT, TEACHER},
    "history": {STUDENT, TEACHER, ADMIN},
    "rewrite": {TEACHER},
    "release": {TEACHER},
    "adopt-level": {TEACHER},
    "hours": {TEACHER, ADMIN},
    "add-extra-hours": {TEACHER, ADMIN},
    "allow-start": {TEACHER, ADMIN},
    "remove-extra-hours": {TEACHER, ADMIN},
    "clear-hours": {TEACHER, ADMIN},
    "cleared": {TEACHER, ADMIN},
    "go-away": {TEACHER, ADMIN},
    "come-back": {TEACHER, ADMIN},
    "reinstate-days": {TEACHER, ADMIN},
    "change-room": {TEACHER, ADMIN},
    "hours-file": {TEACHER, ADMIN},
    "propose-hours": {TEACHER, ADMIN},
    "adopt-hours": {TEACHER, ADMIN},
    "wrap-up": {TEACHER},
    "release-wrap-up": {TEACHER},
    "wrap-up-group": {TEACHER},
    "release-group": {TEACHER},
    "brief": {TEACHER},
    "write-assessment": {TEACHER},
    "new-meeting": {ADMIN},
    "meeting": {*LEARNERS, TEACHER, ADMIN},
    "change-group-meeting": {TEACHER, ADMIN},
    "choose-player": {ADMIN},
    "close-choice": {ADMIN},
    "repeat-meeting": {TEACHER, ADMIN},
    "take-place": {STUDENT, ADMIN},
    "waiting-list": {STUDENT, ADMIN},
    "register": {TEACHER, ADMIN},
    "roster-sheet": {TEACHER, ADMIN},
    "roster-csv": {TEACHER, ADMIN},
    "change-roster": {ADMIN},
    "call-off": {TEACHER, ADMIN},
    "minimum": {TEACHER, ADMIN},
    "it-runs": {ADMIN},
    "change-waiting-list": {ADMIN},
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
# Opened by whoever holds the letter: test_pages_people, test_pages_leaving.
BY_SECRET = {"welcome", "consent", "new-address"}


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
    ids |= {"owed_id": owed_from_before(place).pk}
    ids |= {"move_id": open_exchange(place, school.marlo).pk}
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
    ids |= {"token_id": one_token(school).pk, "webhook_id": one_webhook().pk}
    ids |= {"proposal_id": proposed_time(school.ilse, school.noor, school.consultation).proposed_id}
    ids |= {"plan_id": answered_plan(school.circle.offering, school.ilse, school.noor).pk}
    ids |= {"question_id": cover_question(school.booking, school.wren).pk}
    school.noor.regular_instructor = school.ilse  # for an admin, who names no other
    school.noor.save()
    ids |= {"statement_id": statement_of(school.ilse, school.dag).pk}
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
    found |= of_files(school)
    found["reinstate"] = f"/meetings/{school.called_off().pk}/reinstate/"
    played = masterclass_place(school.ilse, school.noor)
    found["needs-of"] = "/needs/register/"
    found |= trouble_pages(school)
    found["minimum"] = f"/meetings/{school.circle.pk}/minimum/"
    found["it-runs"] = f"/meetings/{school.circle.pk}/it-runs/"
    found["change-waiting-list"] = f"/meetings/{school.circle.pk}/waiting-list/change/"
    found["agenda"] = f"/meetings/{played.meeting_id}/agenda/"
    over = make_booking(
        make_meeting(school.consultation, school.ilse, NOW - timedelta(days=3, hours=4)),
        school.noor,
    )
    found["wrap-up"] = f"/wrap-up/{over.pk}/"
    group = make_meeting(school.group, school.ilse, NOW - timedelta(days=4, hours=4), places=3)
    make_booking(group, school.noor)
    found["wrap-up-group"] = f"/wrap-up/meetings/{group.pk}/"
    found["release-group"] = f"/wrap-up/meetings/{group.pk}/release/"
    for kind in ("access", "erasure"):
        school.noor.privacy_requests.create(kind=kind, asked_by=school.noor.user, asked_at=NOW)
    found["release-wrap-up"] = f"/wrap-up/{over.pk}/release/"
    return found
