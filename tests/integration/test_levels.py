"""A student released at a new level: the record follows when the instructor says so, once, and
never silently.
"""

import pytest

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Assessment, AuditRow, OutboxMessage
from bookings.operations.levels import adopt_level
from bookings.operations.notes import release_assessment
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db


class Studio:
    """Ilse taught Noor, who is on record at level 4, unit 2, and has released a note that says
    level 5, unit 1.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse, self.noor = cast.make_instructor(), cast.make_student()
        cast.taught(self.ilse, self.noor, cast.make_offering())
        self.note = self.release(level=5, unit=1)

    def release(self, **says: int) -> Assessment:
        note = cast.make_assessment(self.noor, self.ilse, **says)
        return write(lambda: release_assessment(actor=self.ilse.user, note=note, now=NOW), now=NOW)

    def adopt(self, note: Assessment, seen: tuple[int, int] | None = None) -> Student:
        return write(
            lambda: adopt_level(actor=self.ilse.user, note=note, seen=seen, now=NOW), now=NOW
        )

    def on_record(self) -> tuple[int, int]:
        return Student.objects.values_list("level", "unit").get(pk=self.noor.pk)


@pytest.fixture
def studio() -> Studio:
    return Studio()


def refused(code: str, studio: Studio, note: Assessment, **how: tuple[int, int]) -> None:
    before = studio.on_record()
    with pytest.raises(Refused) as caught:
        studio.adopt(note, **how)
    assert caught.value.code == code
    assert studio.on_record() == before
    assert not AuditRow.objects.filter(verb="moved level").exists()


def test_a_release_alone_moves_no_record(studio: Studio) -> None:
    """The instructor is asked; until they answer the record stays."""
    assert studio.on_record() == (4, 2)


def test_the_record_follows_in_one_audited_act_that_emails_nobody(studio: Studio) -> None:
    """Field names in the audit, no values; no email."""
    emails = OutboxMessage.objects.count()
    studio.adopt(studio.note, seen=(4, 2))
    assert studio.on_record() == (5, 1)
    row = AuditRow.objects.get(verb="moved level")
    assert (row.thing, row.thing_id, row.actor) == ("student", studio.noor.pk, studio.ilse.user)
    assert row.fields == ["level", "unit"]
    assert OutboxMessage.objects.count() == emails


def test_a_draft_moves_nothing(studio: Studio) -> None:
    """What the student has not been given is no ground for their record."""
    draft = cast.make_assessment(studio.noor, studio.ilse, level=6, unit=1)
    refused("not-yet", studio, draft)


def test_only_the_assessment_released_last_moves_the_record(studio: Studio) -> None:
    """An older one would take the student back."""
    studio.release(level=6, unit=3)
    refused("newer-assessment", studio, studio.note)


def test_what_the_record_says_already_is_not_moved_twice(studio: Studio) -> None:
    """A second press finds it done."""
    same = studio.release(level=4, unit=2)
    refused("already-done", studio, same)


def test_a_record_that_changed_since_it_was_shown_is_kept(studio: Studio) -> None:
    """An admin has moved it meanwhile: the instructor looks again and decides."""
    Student.objects.filter(pk=studio.noor.pk).update(level=7)
    refused("stale", studio, studio.note, seen=(4, 2))


def test_who_may_no_longer_write_moves_no_record(studio: Studio) -> None:
    """The same rule as for the note itself."""
    late = NOW.replace(month=4)
    with pytest.raises(Refused, match="not-found"):
        write(lambda: adopt_level(actor=studio.ilse.user, note=studio.note, now=late), now=late)
