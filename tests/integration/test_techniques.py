"""The techniques of an offering: an admin's list, and what notes take from it."""

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Assessment, AuditRow, Technique
from bookings.operations import notes
from bookings.operations.note_text import NoteText, text_of
from bookings.operations.techniques import replace_techniques
from bookings.queries.techniques import USUAL, techniques_for, techniques_of
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db


class Studio:
    """Ilse teaches consultations and piano lessons, and taught Noor a consultation yesterday."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse, self.noor, self.dag = (
            cast.make_instructor(),
            cast.make_student(),
            cast.make_admin(),
        )
        self.consultation = cast.make_offering()
        self.piano = cast.make_offering("Piano", kind="private-lesson")
        cast.teaches(self.ilse, self.consultation, self.piano)
        self.meeting = cast.taught(self.ilse, self.noor, self.consultation).meeting

    def replace(self, *names: str, by=None, seen=None) -> list[str]:
        return write(
            lambda: replace_techniques(
                actor=by or self.dag, offering=self.consultation, names=names, seen=seen, now=NOW
            ),
            now=NOW,
        )

    def write(self, bands: dict[str, int], *, meeting=None) -> Assessment:
        return write(
            lambda: notes.write_assessment(
                actor=self.ilse.user,
                author=self.ilse,
                student_id=self.noor.pk,
                text=NoteText(bands=bands),
                meeting=meeting,
                now=NOW,
            ),
            now=NOW,
        )

    def rewrite(self, note: Assessment, bands: dict[str, int]) -> Assessment:
        text = NoteText(bands=bands)
        return write(
            lambda: notes.rewrite_assessment(actor=self.ilse.user, note=note, text=text, now=NOW),
            now=NOW,
        )


@pytest.fixture
def studio() -> Studio:
    return Studio()


def refused(code: str, act) -> None:
    before = list(Technique.objects.values_list("name", flat=True)), Assessment.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    after = list(Technique.objects.values_list("name", flat=True)), Assessment.objects.count()
    assert before == after


def test_an_offering_without_a_list_has_the_usual_one(studio: Studio) -> None:
    """That of strings; an admin's own list takes its place, in the order it was written."""
    assert techniques_of(studio.consultation) == list(USUAL)
    assert studio.replace(" tone ", "", "left  hand") == ["tone", "left hand"]
    assert techniques_of(studio.consultation) == ["tone", "left hand"]
    assert techniques_of(studio.piano) == list(USUAL)
    assert AuditRow.objects.get().fields == ["techniques"]


def test_the_same_list_is_not_written_twice(studio: Studio) -> None:
    """A second press leaves no second trace."""
    studio.replace("tone")
    studio.replace("tone")
    assert AuditRow.objects.count() == 1


def test_a_list_that_changed_or_is_no_list_is_refused(studio: Studio) -> None:
    """Nobody but an admin, nothing over another admin's list, none twice, none empty, none long."""
    studio.replace("tone", "rhythm")
    refused("stale", lambda: studio.replace("memory", seen=list(USUAL)))
    refused("not-allowed", lambda: studio.replace("memory", by=studio.ilse.user))
    for names in ((), ("tone", "Tone"), ("x" * 41,), tuple(map(str, range(17)))):
        refused("invalid", lambda names=names: studio.replace(*names))


def test_a_note_takes_the_list_of_its_meeting(studio: Studio) -> None:
    """Without a meeting it takes those of all that its author teaches."""
    studio.replace("left hand")
    assert studio.write({"left hand": 2}, meeting=studio.meeting).bands == {"left hand": 2}
    refused("invalid", lambda: studio.write({"posture": 2}, meeting=studio.meeting))
    assert techniques_for(studio.ilse) == ["left hand", *USUAL]
    assert studio.write({"left hand": 2, "posture": 4}).pk


def test_a_band_of_a_technique_that_left_the_list_stays(studio: Studio) -> None:
    """The next version of a note may keep it; a new note may not have it."""
    note = studio.write({"tone": 2}, meeting=studio.meeting)
    studio.replace("left hand")
    assert studio.rewrite(note, {"tone": 3, "left hand": 1}).bands == {"tone": 3, "left hand": 1}
    refused("invalid", lambda: studio.write({"tone": 2}, meeting=studio.meeting))
    note.refresh_from_db()
    assert text_of(note).bands == {"tone": 3, "left hand": 1}
