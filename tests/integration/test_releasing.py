"""Notes on their way to the student: who may write, over whom, and what follows from a release."""

from datetime import date, timedelta

import pytest

from accounts.models import Student
from bookings.access import history_relation, may_assess
from bookings.domain.errors import Refused
from bookings.domain.practice import PracticeItem
from bookings.door import write
from bookings.models import Assessment, AuditRow, OutboxMessage
from bookings.operations import notes
from bookings.operations.note_text import NoteText, text_of
from bookings.operations.reading_notes import open_history
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db
FULL = {"next_steps": ["Close each finger."], "goal": "The study in G at 72."}

BEFORE = NOW - timedelta(days=3)


class Studio:
    """Ilse taught Noor yesterday; Wren teaches them on 12 March."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.wren = cast.make_instructor("Wren Halloway", "America/New_York")
        self.noor = cast.make_student()
        self.offering = cast.make_offering()
        self.taught = cast.taught(self.ilse, self.noor, self.offering)
        ahead = cast.make_meeting(self.offering, self.wren, at("2027-03-12T17:30Z"))
        cast.make_booking(ahead, self.noor)

    def write(self, author=None, *, meeting=None, student=None, now=NOW, **says) -> Assessment:
        author = author or self.ilse
        return write(
            lambda: notes.write_assessment(
                actor=author.user,
                author=author,
                student_id=(student or self.noor).pk,
                text=NoteText(**says),
                meeting=meeting,
                now=now,
            ),
            now=now,
        )

    def release(self, note: Assessment, *, now=NOW, **how) -> Assessment:
        return write(
            lambda: notes.release_assessment(actor=note.author.user, note=note, now=now, **how),
            now=now,
        )


@pytest.fixture
def studio() -> Studio:
    return Studio()


def refused(code: str, act) -> Refused:
    """Nothing is written by it: no note, no audit row, no email."""
    tables = (Assessment, AuditRow, OutboxMessage)
    before = [model.objects.count() for model in tables]
    states = list(Assessment.objects.order_by("pk").values_list("state", "written_at"))
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert [model.objects.count() for model in tables] == before
    assert list(Assessment.objects.order_by("pk").values_list("state", "written_at")) == states
    return caught.value


def test_a_lesson_note_needs_one_thing_only(studio: Studio) -> None:
    """Something heard, a next step or something to practise; its level is the one on record."""
    bare = studio.write(form="lesson-note", obstacle="The thumb sinks.")
    assert (bare.level, bare.unit, bare.heard_on) == (4, 2, NOW.date())
    refused("incomplete-note", lambda: studio.release(bare))
    item = PracticeItem(what="Scales", minutes=5)
    told = studio.write(form="lesson-note", practice=[item], meeting=studio.taught.meeting)
    assert studio.release(told).practice == [{"what": "Scales", "minutes": 5, "is_review": False}]
    assert told.heard_on == studio.taught.starts_at.date()
    title = OutboxMessage.objects.get(kind="assessment").title
    assert title == "A new lesson note is ready"


def test_a_note_is_of_a_meeting_of_the_two(studio: Studio) -> None:
    """Another instructor's meeting, and one in which the student has no place, are refused."""
    others = cast.taught(studio.ilse, cast.make_student("Marlo Vance"), studio.offering, BEFORE)
    wrens = cast.taught(studio.wren, studio.noor, studio.offering, BEFORE)
    for booking in (others, wrens):
        refusal = refused("invalid", lambda of=booking: studio.write(meeting=of.meeting))
        assert refusal.data["field"] == "meeting"
    assert studio.write(meeting=studio.taught.meeting).meeting == studio.taught.meeting


def test_a_date_before_the_student_was_born_is_refused(studio: Studio) -> None:
    """More than 18 years before coming of age; nor tomorrow, on the author's own clock."""
    Student.objects.filter(pk=studio.noor.pk).update(adult_on=date(2027, 2, 1))
    for wrong in (date(2009, 1, 31), NOW.date() + timedelta(days=1)):
        refusal = refused("invalid", lambda wrong=wrong: studio.write(heard_on=wrong))
        assert refusal.data["field"] == "heard_on"
    assert studio.write(heard_on=date(2009, 2, 1)).pk


def test_a_regular_instructor_writes_without_a_lesson(studio: Studio) -> None:
    """While they teach here; nobody else does, and an offer of a place is no lesson."""
    marlo, bram = cast.make_student("Marlo Vance"), cast.make_instructor("Bram Tolliver")
    assert not may_assess(bram.user, bram, marlo.pk, now=NOW)
    Student.objects.filter(pk=marlo.pk).update(regular_instructor=bram)
    assert may_assess(bram.user, bram, marlo.pk, now=NOW)
    bram.is_active = False
    assert not may_assess(bram.user, bram, marlo.pk, now=NOW)
    refused("not-found", lambda: studio.write(student=marlo))


def test_a_release_over_a_colleagues_note_names_it_first(studio: Studio) -> None:
    """Once the author has been shown it, their own note takes its place; their own needs no yes."""
    theirs = studio.release(studio.write(studio.wren, **FULL))
    mine = studio.write(**FULL)
    refusal = refused("other-author", lambda: studio.release(mine))
    assert refusal.data == {
        "note": theirs.pk,
        "author": "Wren Halloway",
        "heard_on": theirs.heard_on.isoformat(),
    }
    assert "by Wren Halloway, heard on 1 March 2027" in refusal.detail
    refused("other-author", lambda: studio.release(mine, over=mine.pk))
    assert studio.release(mine, over=theirs.pk).released_at == NOW
    assert studio.release(studio.write(**FULL)).pk


def test_a_new_level_goes_on_record_in_the_same_act(studio: Studio) -> None:
    """With one audit row and no email more; without being asked the record stays."""
    studio.release(studio.write(level=5, unit=1, **FULL), adopt=True)
    studio.noor.refresh_from_db()
    assert (studio.noor.level, studio.noor.unit) == (5, 1)
    assert AuditRow.objects.get(verb="moved level").fields == ["level", "unit"]
    assert OutboxMessage.objects.count() == 1
    studio.release(studio.write(level=6, unit=1, **FULL))
    studio.noor.refresh_from_db()
    assert studio.noor.level == 5


def test_an_incomplete_note_leaves_the_record_alone(studio: Studio) -> None:
    """The level and the release stand or fall together."""
    bare = studio.write(level=5)
    refused("incomplete-note", lambda: studio.release(bare, adopt=True))
    studio.noor.refresh_from_db()
    assert studio.noor.level == 4


def test_two_windows_of_a_draft_do_not_overwrite_each_other(studio: Studio) -> None:
    """The same text twice is one save; another over a newer text is refused, then may follow."""
    note = studio.write(**FULL)
    read_at, later = note.written_at, NOW + timedelta(minutes=1)

    def save(goal: str, read_at, now=later) -> Assessment:
        text = NoteText(**{**FULL, "goal": goal})
        return write(
            lambda: notes.rewrite_assessment(
                actor=studio.ilse.user, note=note, text=text, read_at=read_at, now=now
            ),
            now=now,
        )

    saved = save("Study 4", read_at)
    assert save("Study 4", read_at).written_at == saved.written_at
    refused("stale", lambda: save("Study 5", read_at))
    assert save("Study 5", saved.written_at).goal == "Study 5"


def test_what_was_written_is_what_is_read(studio: Studio) -> None:
    """Every field, emoji and right-to-left text included, comes back as it was."""
    said = NoteText(
        form="assessment",
        level=4,
        unit=3,
        heard_on=date(2027, 2, 26),
        heard=["אֶבֶן", "Study 🎵"],
        bands={"tone": 3},
        strengths="s" * 2000,
        obstacle="\u202eעברית",
        next_steps=["One", "Two", "Three"],
        last_goal="partly",
        goal="Ten placed chords",
        goal_on=date(2027, 4, 5),
        practice=[PracticeItem(what="An older piece", minutes=5, is_review=True)],
        follow_up_weeks=4,
        caution="Rest.",
        private_remarks="p" * 4000,
    )
    fields = {name: getattr(said, name) for name in NoteText.__dataclass_fields__}
    note = Assessment.objects.get(pk=studio.write(**fields).pk)
    assert text_of(note) == said
    assert note.follow_up_on == date(2027, 3, 26)


def test_history_is_for_those_who_know_the_student(studio: Studio) -> None:
    """The family, an author who may write now, the regular instructor; an admin with a reason. A
    colleague with one lesson reads that lesson's note only.
    """
    studio.release(studio.write(**FULL))
    dag, marlo = cast.make_admin(), cast.make_student("Marlo Vance")

    def relation(user, now=NOW):
        studio.noor.refresh_from_db()
        return history_relation(user, studio.noor, now=now)

    assert relation(studio.noor.user) == "family"
    assert relation(studio.ilse.user) == "instructor"
    assert relation(studio.ilse.user, NOW + timedelta(days=14)) is None
    assert relation(studio.wren.user) is None
    assert relation(marlo.user) is None
    assert relation(dag) == "admin"
    refused("invalid", lambda: open_history(reader=dag, student_id=studio.noor.pk, now=NOW))
    Student.objects.filter(pk=studio.noor.pk).update(regular_instructor=studio.wren)
    assert relation(studio.wren.user) == "instructor"


def test_history_has_the_newest_version_of_each_note(studio: Studio) -> None:
    """Drafts are not in it, and each note read is logged once."""
    first = studio.release(studio.write(**FULL))
    text = NoteText(**{**FULL, "goal": "Study 4"})
    later = NOW + timedelta(minutes=1)
    second = write(
        lambda: notes.rewrite_assessment(actor=studio.ilse.user, note=first, text=text, now=later),
        now=later,
    )
    studio.release(second, now=later)
    studio.write(**FULL)
    history = open_history(reader=studio.noor.user, student_id=studio.noor.pk, now=later)
    read = history.read(history.rows)
    assert [note.pk for note in read.notes] == [second.pk]
    assert second.readings.count() == 1
    assert read.readings == {}
