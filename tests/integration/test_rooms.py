"""An instructor's new room reaches the meetings ahead; each family reads of it once, and every
calendar follows.
"""

from datetime import timedelta

import pytest

from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import AuditRow, Feed, Meeting, OutboxMessage, SentSequence
from bookings.notices import booking_made
from bookings.operations.rooms import ChangedRoom, change_room
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import events_for
from tests import cast
from tests.cast import NOW, at
from tests.letters import keep, value

pytestmark = pytest.mark.django_db
OLD, NEW = "https://rooms.rowanmere.example/ilse", "https://rooms.rowanmere.example/attic"
LATER = NOW + timedelta(hours=1)


class Term:
    """Ilse teaches Noor on eighteen Mondays and Hedda's two children once each; Wren teaches Noor
    once.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse, self.wren = cast.make_instructor(), cast.make_instructor("Wren Halloway")
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
        self.circle = cast.make_offering("Circle", Kind.GROUP_MEETING, 60)
        self.noor, self.posy = cast.make_student(), cast.make_minor()
        self.hedda = self.posy.guardians.get()
        first = at("2027-03-08T16:00Z")
        self.mondays = [self.book(self.noor, first + timedelta(weeks=k)) for k in range(18)]
        self.posys = self.book(self.posy, at("2027-03-09T09:00Z"))
        self.other = self.book(self.noor, at("2027-03-10T16:00Z"), self.wren)

    def book(self, student, starts_at, teacher=None) -> Meeting:
        meeting = cast.make_meeting(self.lesson, teacher or self.ilse, starts_at)
        booking = cast.make_booking(meeting, student)
        keep(booking_made(booking, now=NOW), NOW)
        return meeting

    def change(self, room=NEW, actor=None, **more) -> ChangedRoom:
        actor = actor or self.ilse.user
        return write(
            lambda: change_room(actor=actor, instructor=self.ilse, room=room, now=LATER, **more),
            now=LATER,
        )

    def sent_now(self, reader) -> list[OutboxMessage]:
        """What leaves at once because of the change."""
        rows = OutboxMessage.objects.filter(recipient=reader, made_at=LATER, due_at__lte=LATER)
        return list(rows.order_by("pk"))


@pytest.fixture
def term(settings) -> Term:
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    built = Term()
    outbox.drain(lambda: NOW)  # every invitation has left
    return built


def addresses(meetings) -> set[str]:
    pks = [meeting.pk for meeting in meetings]
    return set(Meeting.objects.filter(pk__in=pks).values_list("join_address", flat=True))


def test_every_lesson_ahead_takes_the_new_room(term: Term) -> None:
    """Eighteen and one of theirs; another instructor's stay where they are."""
    changed = term.change()
    assert len(changed.meetings) == 19
    assert addresses([*term.mondays, term.posys]) == {NEW}
    assert addresses([term.other]) == {term.wren.room}
    term.ilse.refresh_from_db()
    assert term.ilse.room == NEW
    assert AuditRow.objects.filter(verb="changed room", thing="instructor").count() == 1


def test_a_family_of_eighteen_lessons_gets_one_email(term: Term) -> None:
    """One plain message that lists every date and the new address, and no calendar part (RFC 5546
    section 3.2.2).
    """
    term.change()
    (told,) = term.sent_now(term.noor.user)
    assert (told.kind, told.calendar) == ("told", "")
    assert NEW in told.body
    assert told.body.count("Harp lesson") == 18
    assert OLD not in told.body


def test_a_family_of_one_lesson_gets_its_invitation_anew(term: Term) -> None:
    """One meeting goes out as a change of it does: the same UID, a higher SEQUENCE, the new
    address.
    """
    before = SentSequence.objects.get(meeting=term.posys, recipient=term.hedda).sequence
    term.change()
    (invitation,) = term.sent_now(term.hedda)
    assert (invitation.kind, invitation.method) == ("invitation", "REQUEST")
    assert value(invitation.calendar, "UID") == str(term.posys.uid)
    assert value(invitation.calendar, "SEQUENCE") == str(before + 1)
    assert value(invitation.calendar, "LOCATION") == NEW
    assert SentSequence.objects.get(meeting=term.posys, recipient=term.hedda).sequence == before + 1


def test_what_is_sent_later_of_one_lesson_wins_over_every_state_before(term: Term) -> None:
    """Each meeting's SEQUENCE rises with the room, though no calendar part left for it (RFC 5546
    section 2.1.4).
    """
    before = {meeting.pk: meeting.sequence for meeting in term.mondays}
    term.change()
    for meeting in Meeting.objects.filter(pk__in=before):
        assert meeting.sequence == before[meeting.pk] + 1
    shown = {event.uid: event for event in events_for(term.noor.user, now=LATER)}
    for meeting in term.mondays:
        event = shown[str(meeting.uid)]
        assert (event.sequence, event.join_address) == (before[meeting.pk] + 1, NEW)


def test_reminders_written_ahead_speak_of_the_new_room(term: Term) -> None:
    """As many as before, each with the new address; none with the old one leaves."""
    due = OutboxMessage.objects.filter(state="due", kind__startswith="reminder")
    before = due.filter(recipient=term.noor.user).count()
    term.change()
    of_ilse = due.filter(recipient=term.noor.user).exclude(meeting=term.other)
    of_wren = due.filter(recipient=term.noor.user, meeting=term.other)
    assert of_ilse.count() + of_wren.count() == before
    assert all(NEW in message.body and OLD not in message.body for message in of_ilse)


def test_feeds_of_families_and_instructor_are_revised(term: Term) -> None:
    """Noor's, Hedda's and Ilse's own, and nobody else's."""
    marlo = cast.make_student("Marlo Vance").user
    owners = [term.noor.user, term.hedda, term.ilse.user, marlo]
    feeds = [open_feed(actor=owner, label="Phone", now=NOW)[0] for owner in owners]
    term.change()
    risen = [Feed.objects.get(pk=feed.pk).revision > feed.revision for feed in feeds]
    assert risen == [True, True, True, False]


def test_a_group_meeting_follows_where_it_was_in_the_room(term: Term) -> None:
    """One with an address of its own keeps it; what has begun or is called off stays as it was."""
    hall = "https://rooms.rowanmere.example/hall"
    starts = at("2027-04-10T10:00Z")
    inside = cast.make_meeting(term.circle, term.ilse, starts, places=5)
    elsewhere = cast.make_meeting(
        term.circle, term.ilse, starts + timedelta(days=1), places=5, join_address=hall
    )
    begun = cast.make_meeting(term.circle, term.ilse, LATER - timedelta(minutes=5), places=5)
    off = cast.make_meeting(
        term.circle, term.ilse, starts + timedelta(days=2), status="CANCELLED", places=5
    )
    term.change()
    assert addresses([inside]) == {NEW}
    assert addresses([elsewhere]) == {hall}
    assert addresses([begun, off]) == {OLD}


def test_lessons_that_a_room_of_before_left_behind_follow_too(term: Term) -> None:
    """The room was changed on the record alone: saving it here reaches the lessons, once."""
    type(term.ilse).objects.filter(pk=term.ilse.pk).update(room=NEW)
    assert len(term.change().meetings) == 19
    assert term.change().meetings == []
    assert len(term.sent_now(term.noor.user)) == 1


def test_an_invitation_that_has_not_left_is_replaced(term: Term) -> None:
    """The mail server was away: what waits holds the old address and must not leave late."""
    OutboxMessage.objects.filter(meeting=term.mondays[0], kind="invitation").update(state="due")
    term.change()
    waiting = OutboxMessage.objects.filter(
        meeting=term.mondays[0], kind="invitation", recipient=term.noor.user, state="due"
    )
    assert [NEW in message.calendar for message in waiting] == [True]


def test_an_admin_changes_it_and_the_instructor_is_told(term: Term) -> None:
    """Once; who changes it themselves needs no email."""
    term.change(actor=cast.make_admin())
    (told,) = term.sent_now(term.ilse.user)
    assert "19 meetings have the new address" in told.body
    term.change(room=OLD)
    assert len(term.sent_now(term.ilse.user)) == 1


@pytest.mark.parametrize(
    "room", ["", "https://", "http://x.example", "javascript:alert(1)", "https://a b", "x" * 301]
)
def test_a_room_is_an_address_on_the_web(term: Term, room: str) -> None:
    """Anything else is refused and every lesson keeps its address."""
    with pytest.raises(Refused, match="invalid"):
        term.change(room=room)
    assert addresses(term.mondays) == {OLD}


def test_a_room_that_changed_since_it_was_read_is_kept(term: Term) -> None:
    """Of two who change it at once the second reads it again."""
    with pytest.raises(Refused, match="stale"):
        term.change(seen="https://rooms.rowanmere.example/cellar")
    assert len(term.change(seen=OLD).meetings) == 19
