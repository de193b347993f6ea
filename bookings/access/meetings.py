"""The meetings that a person may see, and those that they run."""

from datetime import datetime

from django.db.models import Q

from accounts.models import User
from bookings.access.instructors import is_now
from bookings.access.refusals import not_there, require_admin
from bookings.access.students import own_students
from bookings.domain.vocabulary import Kind
from bookings.models import ONE_ON_ONE, Booking, Meeting, MeetingQuerySet


def may_run(user: User, meeting: Meeting) -> bool:
    """Whether this person runs the meeting: as its instructor, who still teaches, or an admin."""
    return user.is_staff or is_now(user, meeting.instructor)


def meetings_of(user: User, *, now: datetime) -> MeetingQuerySet:
    """The meetings that a person may see; an admin sees all.

    Others see group meetings, one-on-ones they teach, and one-on-ones with a booking of a student
    for whom they act.
    """
    rows = Meeting.objects.not_proposed().select_related("offering", "instructor__user")
    if user.is_staff:
        return rows
    mine = Booking.objects.filter(student__in=own_students(user, now=now)).order_by()
    return rows.filter(Q(pk__in=mine.values("meeting")) | _open_to(user))


def _open_to(user: User) -> Q:
    """Whatever family one has: what one teaches, and every group meeting."""
    taught = Q(instructor__user=user, instructor__is_active=True)
    return taught | ~Q(offering__kind__in=ONE_ON_ONE)


def access_meeting(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """A meeting that this person may see. Refused("not-found").

    The family is asked about only where it matters: of a one-on-one.
    """
    rows = Meeting.objects.not_proposed().select_related("offering", "instructor__user")
    found = rows.filter(_open_to(user), pk=meeting_id).first()
    found = found or meetings_of(user, now=now).filter(pk=meeting_id).first()
    if found is None:
        raise not_there()
    return found


def access_taught_meeting(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """A meeting whose roster and register this person may see. Refused("not-found")."""
    found = access_meeting(user, meeting_id, now=now)
    if not may_run(user, found):
        raise not_there()
    return found


def access_agenda(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """A masterclass whose order of players this person may read: one who runs it or, for a place
    that is held, the family. Refused("not-found").
    """
    found = access_meeting(user, meeting_id, now=now)
    if found.offering.kind != Kind.MASTERCLASS:
        raise not_there()
    held = Booking.objects.in_meetings([found]).held()
    if may_run(user, found) or held.filter(student__in=own_students(user, now=now)).exists():
        return found
    raise not_there()


def access_group_to_wrap_up(user: User, meeting_id: int) -> Meeting:
    """A group meeting or masterclass that this person wraps up: only as its instructor.

    Refused("not-found").
    """
    rows = Meeting.objects.not_proposed().exclude(offering__kind__in=ONE_ON_ONE)
    mine = rows.filter(instructor__user=user, instructor__is_active=True, pk=meeting_id)
    found = mine.select_related("offering", "instructor__user").first()
    if found is None:
        raise not_there()
    return found


def access_roster_feed(user: User, meeting_id: int, *, now: datetime) -> Meeting:
    """The meeting of a roster feed, which is for admins. Refused: "not-allowed", "not-found"."""
    require_admin(user)
    return access_meeting(user, meeting_id, now=now)
