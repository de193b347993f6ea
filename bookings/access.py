"""The only door from a request to an object. What is not yours and what is not there look the same: 404.

A person acts for herself, for the children she is guardian of and, as an admin, for everybody.
"""

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from accounts.models import Guardianship, Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.domain.policy import is_minor
from bookings.domain.vocabulary import Kind, NoteState
from bookings.domain.zones import zone
from bookings.models import (
    Assessment,
    Booking,
    BusyCalendar,
    DaysAway,
    ExtraHours,
    Feed,
    Meeting,
    MoveRequest,
    WeeklyPlace,
)

ONE_ON_ONE = [Kind.CONSULTATION.value, Kind.PRIVATE_LESSON.value]
NOTES_STAY = timedelta(days=14)
"""How long after a meeting its instructor, who is not the author, still reads the note that travelled with it."""


def _nothing() -> Refused:
    return Refused("not-found", "There is nothing at this address that you may see.")


def own_students(user: User) -> QuerySet[Student]:
    """The students a person may act for without being an admin: herself and her children."""
    # A union and not an OR over a join: with 100,000 students that would look at every one of them.
    children = Guardianship.objects.filter(guardian=user).order_by().values("student")
    return Student.objects.filter(
        pk__in=Student.objects.filter(user=user).order_by().values("pk").union(children)
    )


def name_for(reader: User, student: Student, now: datetime) -> str:
    """How a reader who is not of her family sees a student: a minor's surname is for admins only."""
    if student.adult_on is None or reader.is_staff:
        return student.full_name
    under_age = is_minor(student.adult_on, now.astimezone(zone(student.zone)).date())
    return student.first_name if under_age else student.full_name


def access_student(user: User, student_id: int | None = None) -> Student:
    """The student to act for: named by id, oneself, or the only child there is. "invalid" where a guardian of several named none."""
    if user.is_staff and student_id is not None:
        found = Student.objects.select_related("user").filter(pk=student_id).first()
        if found is None:
            raise _nothing()
        return found
    if student_id is None:
        herself = Student.objects.select_related("user").filter(user=user).first()
        if herself is not None:
            return herself
    students = own_students(user).select_related("user")
    if student_id is not None:
        students = students.filter(pk=student_id)
    rows = list(students[:2])
    if not rows:
        raise (
            _nothing()
            if student_id is not None
            else Refused(
                "not-allowed", "Only a student, a guardian or an admin books; name the student."
            )
        )
    if len(rows) > 1:
        raise Refused(
            "invalid", "You are guardian of several students: say which one.", field="student"
        )
    return rows[0]


def instructor_of(user: User) -> Instructor | None:
    """The instructor this person is, if she teaches now."""
    return Instructor.objects.select_related("user").filter(user=user, is_active=True).first()


def access_instructor(user: User, instructor_id: int | None = None) -> Instructor:
    """The instructor whose time may be changed: oneself, or as an admin the one named."""
    if user.is_staff and instructor_id is not None:
        found = Instructor.objects.select_related("user").filter(pk=instructor_id).first()
    else:
        found = instructor_of(user)
        if found is not None and instructor_id is not None and found.pk != instructor_id:
            found = None
    if found is None:
        if instructor_id is None:
            raise Refused(
                "not-allowed",
                "Only an instructor has teaching hours; an admin names the instructor.",
            )
        raise _nothing()
    return found


def runs(user: User, meeting: Meeting) -> bool:
    """Whether a meeting is hers to run: its instructor while she teaches here, or an admin."""
    return user.is_staff or _is_now(user, meeting.instructor)


def _is_now(user: User, instructor: Instructor) -> bool:
    return instructor.is_active and instructor.user_id == user.pk


def bookings_of(user: User) -> QuerySet[Booking]:
    """The bookings a person may see: her own, her children's, those in meetings she teaches; an admin sees all."""
    rows = Booking.objects.select_related(
        "meeting__offering", "meeting__instructor__user", "student__user", "policy"
    )
    if user.is_staff:
        return rows
    taught = Q(meeting__instructor__user=user, meeting__instructor__is_active=True)
    return rows.filter(
        Q(student__user=user) | Q(student__guardianships__guardian=user) | taught
    ).distinct()


def access_booking(user: User, booking_id: int) -> Booking:
    """A booking one may see."""
    found = bookings_of(user).filter(pk=booking_id).first()
    if found is None:
        raise _nothing()
    return found


def access_own_booking(user: User, booking_id: int) -> Booking:
    """A booking one may change as its student, guardian or as an admin; its instructor calls meetings off instead."""
    found = access_booking(user, booking_id)
    if not (user.is_staff or own_students(user).filter(pk=found.student_id).exists()):
        raise Refused(
            "not-allowed",
            "An instructor calls the meeting off; the booking is the student's to cancel or move.",
        )
    return found


def meetings_of(user: User) -> QuerySet[Meeting]:
    """Meetings a person may see: open group meetings, and one-on-ones she or her child is booked in or she teaches."""
    rows = Meeting.objects.select_related("offering", "instructor__user")
    if user.is_staff:
        return rows
    mine = Q(bookings__student__user=user) | Q(bookings__student__guardianships__guardian=user)
    return rows.filter(
        mine
        | Q(instructor__user=user, instructor__is_active=True)
        | ~Q(offering__kind__in=ONE_ON_ONE)
    ).distinct()


def access_meeting(user: User, meeting_id: int) -> Meeting:
    """A meeting one may see."""
    found = meetings_of(user).filter(pk=meeting_id).first()
    if found is None:
        raise _nothing()
    return found


def access_taught_meeting(user: User, meeting_id: int) -> Meeting:
    """A meeting one runs: its instructor or an admin. To anybody else its roster and register are not there."""
    found = access_meeting(user, meeting_id)
    if not runs(user, found):
        raise _nothing()
    return found


def access_brief(user: User, booking_id: int) -> Booking:
    """A booking whose brief one may read: the meeting's instructor's, nobody else's."""
    found = access_booking(user, booking_id)
    if not _is_now(user, found.meeting.instructor):
        raise _nothing()
    return found


def access_assessment(user: User, assessment_id: int) -> Assessment:
    """A note one may write on: the author's own."""
    found = (
        Assessment.objects.select_related("student__user", "author__user")
        .filter(pk=assessment_id, author__user=user, author__is_active=True)
        .first()
    )
    if found is None:
        raise _nothing()
    return found


def reading_relation(user: User, note: Assessment, *, now: datetime) -> str | None:
    """As what this person may read the note now: "author", "family", "instructor", "admin"; None where she may not.

    Decided at reading time. The meeting's instructor reads the note that the booking carries, from booking to 14 days after;
    a family reads released text only.
    """
    if note.author.user_id == user.pk and note.author.is_active:
        return "author"
    if note.state != NoteState.RELEASED:
        return None
    if own_students(user).filter(pk=note.student_id).exists():
        return "family"
    meets = Booking.objects.filter(
        assessment=note,
        meeting__instructor__user=user,
        meeting__instructor__is_active=True,
        standing="HELD",
        ends_at__gt=now - NOTES_STAY,
    )
    if meets.exists():
        return "instructor"
    return "admin" if user.is_staff else None


def access_extra_hours(user: User, extra_id: int) -> ExtraHours:
    """Extra hours one may take back."""
    found = ExtraHours.objects.select_related("instructor__user").filter(pk=extra_id).first()
    if found is None or not (user.is_staff or _is_now(user, found.instructor)):
        raise _nothing()
    return found


def access_days_away(user: User, away_id: int) -> DaysAway:
    """Days away one may take back."""
    found = DaysAway.objects.select_related("instructor__user").filter(pk=away_id).first()
    if found is None or not (user.is_staff or _is_now(user, found.instructor)):
        raise _nothing()
    return found


def weekly_places_of(user: User) -> QuerySet[WeeklyPlace]:
    """The weekly places a person may see: her own, her children's, those she teaches; an admin sees all."""
    rows = WeeklyPlace.objects.select_related(
        "term", "student__user", "instructor__user", "offering", "policy"
    )
    if user.is_staff:
        return rows
    mine = Q(student__in=own_students(user)) | Q(instructor__user=user, instructor__is_active=True)
    return rows.filter(mine)


def access_own_weekly_place(user: User, place_id: int) -> WeeklyPlace:
    """A weekly place one may leave or move as its student, guardian or as an admin."""
    found = weekly_places_of(user).filter(pk=place_id).first()
    if found is None:
        raise _nothing()
    if not (user.is_staff or own_students(user).filter(pk=found.student_id).exists()):
        raise Refused(
            "not-allowed",
            "An instructor calls meetings off; the weekly place is the student's to leave or move.",
        )
    return found


def move_requests_seen(user: User) -> QuerySet[MoveRequest]:
    """Every request to move, answered ones too, about a booking that this person may see."""
    rows = MoveRequest.objects.select_related(
        "booking__student__user", "booking__meeting__offering", "booking__meeting__instructor__user"
    )
    return (
        rows
        if user.is_staff
        else rows.filter(booking__in=bookings_of(user).order_by().values("pk"))
    )


def move_requests_of(user: User) -> QuerySet[MoveRequest]:
    """The open requests to move that a person answers: those of one-on-ones she teaches; an admin answers all."""
    rows = move_requests_seen(user).filter(state=MoveRequest.State.OPEN)
    if user.is_staff:
        return rows
    if instructor_of(user) is None:
        raise Refused("not-allowed", "Only an instructor or an admin answers a request to move.")
    return rows.filter(booking__meeting__instructor__user=user)


def access_move_request(user: User, request_id: int, *, to_answer: bool = False) -> MoveRequest:
    """A request to move that one may see; only its instructor and admins may answer it."""
    found = move_requests_seen(user).filter(pk=request_id).first()
    if found is None:
        raise _nothing()
    if to_answer and not runs(user, found.booking.meeting):
        raise Refused("not-allowed", "The instructor or an admin answers a request to move.")
    return found


def access_feed(user: User, feed_id: int) -> Feed:
    """One's own subscription."""
    found = Feed.objects.filter(pk=feed_id, owner=user, revoked_at__isnull=True).first()
    if found is None:
        raise _nothing()
    return found


def access_busy_person(
    user: User, *, student_id: int | None = None, instructor_id: int | None = None
) -> Instructor | Student:
    """Whose busy time it is about: a student of one's family, or oneself as instructor or student. Nobody else's, not even an admin's."""
    if student_id is not None:
        found = own_students(user).select_related("user").filter(pk=student_id).first()
        if found is None:
            raise _nothing()
        return found
    own = instructor_of(user)
    if instructor_id is not None and (own is None or own.pk != instructor_id):
        raise _nothing()
    if own is not None:
        return own
    rows = list(own_students(user).select_related("user").order_by("pk"))
    if not rows:
        raise Refused(
            "not-allowed", "Only an instructor, a student or a guardian has busy calendars."
        )
    own_row = next((row for row in rows if row.user_id == user.pk), None)
    if own_row is None and len(rows) > 1:
        raise Refused(
            "invalid", "You are guardian of several students: say which one.", field="student"
        )
    return own_row or rows[0]


def access_busy_calendar(user: User, calendar_id: int) -> BusyCalendar:
    """A calendar that says when oneself, or one's child, is busy."""
    students = own_students(user)
    mine = Q(owner=user) | Q(student__in=students) | Q(owner__student__in=students)
    found = (
        BusyCalendar.objects.filter(mine, pk=calendar_id)
        .select_related("owner", "student__user")
        .first()
    )
    if found is None:
        raise _nothing()
    return found


def access_roster_feed(user: User, meeting_id: int) -> Meeting:
    """The meeting whose places a calendar is to count: for admins, who run the rosters."""
    require_admin(user)
    return access_meeting(user, meeting_id)


def access_account(user: User, user_id: int) -> User:
    """Somebody's account, for admins."""
    require_admin(user)
    found = User.objects.filter(pk=user_id).first()
    if found is None:
        raise _nothing()
    return found


def require_admin(user: User) -> None:
    """Refuses whoever is not an admin."""
    if not user.is_staff:
        raise Refused("not-allowed", "Only an admin does this.")
