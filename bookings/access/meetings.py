"""The meetings a person may see, and those they run."""

from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import User
from bookings.access.instructors import is_now
from bookings.access.refusals import not_there, require_admin
from bookings.access.students import own_students
from bookings.domain.vocabulary import Kind
from bookings.models import Booking, Meeting

ONE_ON_ONE = [Kind.CONSULTATION.value, Kind.PRIVATE_LESSON.value]


def runs(user: User, meeting: Meeting) -> bool:
    """Whether a meeting is hers to run: its instructor while she teaches here, or an admin."""
    return user.is_staff or is_now(user, meeting.instructor)


def meetings_of(user: User, *, now: datetime) -> QuerySet[Meeting]:
    """Meetings a person may see: group meetings, one-on-ones they teach, and those that their
    people are booked in.
    """
    rows = Meeting.objects.select_related("offering", "instructor__user")
    if user.is_staff:
        return rows
    mine = Booking.objects.filter(student__in=own_students(user, now=now)).order_by()
    return rows.filter(Q(pk__in=mine.values("meeting")) | _open_to(user))


def _open_to(user: User) -> Q:
    """Whatever family one has: what one teaches, and every group meeting."""
    taught = Q(instructor__user=user, instructor__is_active=True)
    return taught | ~Q(offering__kind__in=ONE_ON_ONE)


def access_meeting(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """A meeting one may see. The family is asked about only where it matters: of a one-on-one."""
    named = Meeting.objects.select_related("offering", "instructor__user").filter(pk=meeting_id)
    found = named.filter(_open_to(user)).first()
    found = found or meetings_of(user, now=now).filter(pk=meeting_id).first()
    if found is None:
        raise not_there()
    return found


def access_taught_meeting(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """A meeting one runs: its instructor or an admin. To anybody else its roster and register are
    not there.
    """
    found = access_meeting(user, meeting_id, now=now)
    if not runs(user, found):
        raise not_there()
    return found


def access_roster_feed(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """The meeting whose places a calendar is to count: for admins, who run the rosters."""
    require_admin(user)
    return access_meeting(user, meeting_id, now=now)
