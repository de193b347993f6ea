"""Wrapping up a lesson: register, note and next date in one act, or none of them."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bookings.access import access_wrap_up
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, Kind, NoteForm, NoteState
from bookings.models import Assessment, AuditRow, Booking, Mark
from bookings.operations.note_text import NoteText
from bookings.operations.wrap_up import NextDate, Release
from bookings.queries.next_dates import next_dates
from tests import cast
from tests.cast import at
from tests.school.wrapping_up import NEXT, OVER, TEXT, JustOver, rows

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return JustOver()


def refused(code, act):
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    return caught.value


def test_all_three_in_one_act(school):
    """The register is marked, the note released and the next date booked for the student."""
    done = school.wrap_up(text=TEXT, release=Release(), next_date=NextDate(book=NEXT))
    assert Mark.objects.get().attendance == Attendance.PRESENT
    assert (done.note.state, done.note.meeting_id) == (
        NoteState.RELEASED,
        school.booking.meeting_id,
    )
    assert (done.booked.starts_at, done.booked.student) == (NEXT, school.noor)
    assert done.booked.decline_by == OVER + timedelta(days=1)


def test_a_time_taken_meanwhile_undoes_the_rest(school):
    """The refusal names its part; neither a mark nor a note nor an email is left behind."""
    school.book(NEXT, cast.make_student("Marlo Vance"), now=OVER)
    before = rows()
    refusal = refused(
        "taken",
        lambda: school.wrap_up(text=TEXT, release=Release(), next_date=NextDate(book=NEXT)),
    )
    assert refusal.data["part"] == "next"
    assert rows() == before
    assert not Assessment.objects.exists()


@pytest.mark.parametrize(
    ("more", "part", "code"),
    [
        ({"now": at("2027-02-26T17:00Z")}, "register", "not-yet"),
        ({"text": replace(TEXT, level=11)}, "note", "invalid"),
        ({"text": replace(TEXT, goal=""), "release": Release()}, "note", "incomplete-note"),
        ({"release": Release()}, "note", "incomplete-note"),
        ({"next_date": NextDate(propose=[NEXT, NEXT])}, "next", "invalid"),
    ],
)
def test_a_refusal_names_its_part_and_leaves_nothing(school, more, part, code):
    """Whichever part refuses, the others are not written either."""
    before = rows()
    assert refused(code, lambda: school.wrap_up(**more)).data["part"] == part
    assert rows() == before
    assert not Assessment.objects.exists()


def test_a_draft_is_saved_over_and_over(school):
    """The same draft changes; a save that changes nothing writes no row of the audit trail."""
    first = school.wrap_up(text=TEXT).note
    written = AuditRow.objects.count()
    again = school.wrap_up(text=TEXT, read_at=first.written_at).note
    assert (again.pk, AuditRow.objects.count()) == (first.pk, written)
    later = OVER + timedelta(minutes=1)
    text = replace(TEXT, goal="Twelve placed chords")
    changed = school.wrap_up(text=text, read_at=first.written_at, now=later).note
    assert (changed.pk, changed.goal, Assessment.objects.count()) == (first.pk, text.goal, 1)


def test_two_tabs_never_overwrite_each_other_unseen(school):
    """A tab that has not seen the draft of the other is told, with or without one of its own."""
    first = school.wrap_up(text=TEXT).note
    other = replace(TEXT, goal="Another goal")
    refused("stale", lambda: school.wrap_up(text=other))
    later = OVER + timedelta(minutes=1)
    school.wrap_up(text=other, read_at=first.written_at, now=later)
    third = replace(TEXT, goal="A third goal")
    refused("stale", lambda: school.wrap_up(text=third, read_at=first.written_at, now=later))
    assert Assessment.objects.get().goal == "Another goal"


def test_a_note_is_released_once(school):
    """A second press releases nothing, and a tab left open does not write over it."""
    note = school.wrap_up(text=TEXT, release=Release()).note
    late = {"read_at": note.written_at, "release": Release()}
    refused("already-released", lambda: school.wrap_up(**late))
    refused("already-released", lambda: school.wrap_up(text=TEXT, read_at=note.written_at))


def test_a_text_that_says_nothing_becomes_no_draft(school):
    """The register alone is marked, for a student who did not come."""
    blank = NoteText(follow_up_weeks=4)
    done = school.wrap_up(attendance=Attendance.ABSENT_WITHOUT_NOTICE, text=blank)
    assert done.note is None
    assert Mark.objects.get().attendance == Attendance.ABSENT_WITHOUT_NOTICE


def test_all_three_times_are_proposed_at_once(school):
    """The family chooses; each time is held, and none is booked."""
    found = next_dates(school.booking, NEXT.date(), now=OVER)
    starts = [slot.starts_at for slot in found.slots]
    assert (len(starts), NEXT in starts) == (3, True)
    done = school.wrap_up(next_date=NextDate(propose=starts))
    assert done.proposed.answer_by == found.answer_by
    assert Booking.objects.proposed().of(school.noor).count() == 3


def test_dates_that_are_over_are_not_offered(school):
    """Nothing is found around a day that is gone, and the next lesson that is booked is known."""
    later = at("2027-04-20T09:00Z")
    assert next_dates(school.booking, NEXT.date(), now=later).slots == []
    ilse, pk = school.ilse.user, school.booking.pk
    assert access_wrap_up(ilse, pk, now=OVER).next_at is None
    school.wrap_up(next_date=NextDate(book=NEXT))
    assert access_wrap_up(ilse, pk, now=OVER).next_at == NEXT


def test_a_light_note_for_a_private_lesson(school):
    """It is released with one thing heard; a level that it changes is adopted with it."""
    lesson = cast.make_offering("Private lesson", Kind.PRIVATE_LESSON, 30)
    meeting = cast.make_meeting(lesson, school.ilse, at("2027-02-26T16:00Z"))
    booking = cast.make_booking(meeting, school.noor)
    text = NoteText(form=NoteForm.LESSON_NOTE, heard=["Lantern Song"], level=5)
    done = school.wrap_up(booking=booking, text=text, release=Release(adopt=True))
    school.noor.refresh_from_db()
    assert (done.note.form, school.noor.level) == ("lesson-note", 5)


def test_a_booking_that_has_ended_is_not_wrapped_up(school):
    """There is no lesson to say anything about."""
    Booking.objects.update(standing="ENDED", ended_at=OVER, ended_why="cancelled-late")
    refused("already-ended", school.wrap_up)
