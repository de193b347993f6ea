"""Assessments: draft, release, travel with the booking; who may read what; the register."""

from datetime import timedelta

import pytest
from cryptography.exceptions import InvalidTag

from bookings.access import reading_relation
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, NoteState
from bookings.door import write
from bookings.models import Assessment, Mark, OutboxMessage
from bookings.operations import notes, reading_notes, register
from bookings.queries.notes import latest_released
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db


class Studio:
    """Ilse taught Noor on Sunday 28 February; Noor has a consultation with Wren on 12 March."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.wren = cast.make_instructor("Wren Halloway", "America/New_York")
        self.noor = cast.make_student()
        self.meeting = cast.make_meeting(cast.make_offering(), self.wren, at("2027-03-12T17:30Z"))
        self.booking = cast.make_booking(self.meeting, self.noor)
        heard = cast.make_meeting(self.meeting.offering, self.ilse, at("2027-02-28T16:00Z"))
        cast.make_booking(heard, self.noor)

    def release(self, note, now=NOW):
        return write(
            lambda: notes.release_assessment(actor=note.author.user, note=note, now=now), now=now
        )


@pytest.fixture
def studio():
    return Studio()


def refused(code, act):
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code


def test_a_release_moves_every_future_booking_forward(studio):
    """Acceptance scenario 11: the newest note shows on a booking made before it."""
    first = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    studio.booking.refresh_from_db()
    assert studio.booking.assessment == first
    newer = studio.release(
        cast.make_assessment(studio.noor, studio.ilse), now=NOW + timedelta(hours=1)
    )
    studio.booking.refresh_from_db()
    assert studio.booking.assessment == newer == latest_released(studio.noor)


def test_what_travelled_is_frozen_when_the_meeting_starts(studio):
    """A note released during or after the meeting belongs to the next one."""
    first = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    studio.release(cast.make_assessment(studio.noor, studio.ilse), now=studio.booking.starts_at)
    studio.booking.refresh_from_db()
    assert studio.booking.assessment == first


def test_a_note_is_released_once_and_only_with_a_next_step_and_a_goal(studio):
    """Not one comment in a hundred names a goal (a study of studio lessons): the form insists."""
    bare = cast.make_assessment(studio.noor, studio.ilse, goal=" ")
    refused("incomplete-note", lambda: studio.release(bare))
    note = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    refused("already-released", lambda: studio.release(note))


def test_a_released_note_is_followed_never_edited(studio):
    """Its text becomes a new draft version; the old one stays as it was."""
    note = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    text = notes.NoteText(level=5, unit=1, goal="Another goal.", next_steps=["Another step."])
    draft = write(
        lambda: notes.rewrite_assessment(actor=studio.ilse.user, note=note, text=text, now=NOW),
        now=NOW,
    )
    assert (draft.lineage, draft.version, draft.state) == (note.lineage, 2, NoteState.DRAFT)
    assert Assessment.objects.get(pk=note.pk).goal != draft.goal
    refused(
        "already-released",
        lambda: write(
            lambda: notes.rewrite_assessment(actor=studio.ilse.user, note=note, text=text, now=NOW),
            now=NOW,
        ),
    )


def test_the_mail_about_a_note_holds_none_of_its_text(studio):
    """The text is read behind the sign-in only."""
    note = cast.make_assessment(
        studio.noor, studio.ilse, obstacle="OBSTACLE-CANARY", next_steps=["STEP-CANARY"]
    )
    note.private_remarks = "REMARKS-CANARY"
    note.save()
    studio.release(note)
    mail = OutboxMessage.objects.get(kind="assessment")
    assert "CANARY" not in mail.title + mail.body + mail.calendar


def test_private_remarks_are_sealed_at_rest(studio):
    """The stored bytes do not hold the text, and open only in their own row."""
    note = cast.make_assessment(studio.noor, studio.ilse)
    note.private_remarks = "They are thinking of stopping."
    note.save()
    stored = Assessment.objects.get(pk=note.pk)
    assert b"stopping" not in bytes(stored.sealed_remarks)
    assert stored.private_remarks == "They are thinking of stopping."
    other = cast.make_assessment(
        studio.noor, studio.ilse, sealed_remarks=bytes(stored.sealed_remarks)
    )
    with pytest.raises(InvalidTag):
        _ = other.private_remarks


def test_who_reads_a_note_is_decided_when_it_is_read(studio):
    """Author while employed; family released text; the meeting's instructor to 14 days after; an
    admin with a reason; nobody else.
    """
    note = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    admin, stranger = cast.make_admin(), cast.make_student("Marlo Vance")
    ends_at = studio.booking.ends_at

    def relation(user, now=NOW):
        return reading_relation(user, note, now=now)

    assert relation(studio.ilse.user) == "author"
    assert relation(studio.noor.user) == "family"
    assert relation(studio.wren.user) == "instructor"
    assert relation(studio.wren.user, ends_at + timedelta(days=13)) == "instructor"
    assert relation(studio.wren.user, ends_at + timedelta(days=14)) is None
    assert relation(admin) == "admin"
    assert relation(stranger.user) is None
    studio.ilse.is_active = False
    studio.ilse.save()
    note.refresh_from_db()
    assert relation(studio.ilse.user) is None


def test_a_draft_is_its_authors_only(studio):
    """Not the family's, not the next instructor's, not an admin's."""
    draft = cast.make_assessment(studio.noor, studio.ilse)
    readers = [studio.noor.user, studio.wren.user, cast.make_admin()]
    assert [reading_relation(reader, draft, now=NOW) for reader in readers] == [None, None, None]


def test_an_admin_reads_with_a_reason_that_is_kept(studio):
    """The reading is logged before the text is shown."""
    note = studio.release(cast.make_assessment(studio.noor, studio.ilse))
    admin = cast.make_admin()
    refused(
        "invalid",
        lambda: reading_notes.log_reading(reader=admin, note=note, relation="admin", now=NOW),
    )
    reading_notes.log_reading(
        reader=admin, note=note, relation="admin", reason="The family asked.", now=NOW
    )
    assert note.readings.get().reason == "The family asked."


def test_bands_are_named_and_run_from_one_to_four(studio):
    """A technique nobody knows or a fifth band is refused."""
    for bands in ({"whistling": 2}, {"tone": 5}):
        text = notes.NoteText(level=4, unit=1, bands=bands)
        refused(
            "invalid",
            lambda text=text: write(
                lambda: notes.write_assessment(
                    actor=studio.ilse.user,
                    author=studio.ilse,
                    student_id=studio.noor.pk,
                    text=text,
                    now=NOW,
                ),
                now=NOW,
            ),
        )


def test_the_register_opens_with_the_meeting_and_can_be_corrected(studio):
    """Before the start nobody has come; marking again replaces."""
    marks = {studio.booking.pk: Attendance.PRESENT}
    refused(
        "not-yet",
        lambda: register.mark_register(
            actor=studio.wren.user, meeting=studio.meeting, marks=marks, now=NOW
        ),
    )
    start = studio.meeting.starts_at
    write(
        lambda: register.mark_register(
            actor=studio.wren.user, meeting=studio.meeting, marks=marks, now=start
        ),
        now=start,
    )
    late = {studio.booking.pk: Attendance.LATE}
    write(
        lambda: register.mark_register(
            actor=studio.wren.user, meeting=studio.meeting, marks=late, now=start
        ),
        now=start,
    )
    assert Mark.objects.get().attendance == Attendance.LATE
    refused(
        "invalid",
        lambda: register.mark_register(
            actor=studio.wren.user,
            meeting=studio.meeting,
            marks={999_999: Attendance.PRESENT},
            now=start,
        ),
    )
