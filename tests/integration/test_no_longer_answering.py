"""No email about a child is on its way to somebody who no longer answers for them."""

from collections.abc import Callable

import pytest

from accounts.models import Guardianship
from bookings import notices
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations.barring import bar_guardian
from bookings.operations.guardians import remove_guardian
from tests import cast
from tests.cast import NOW
from tests.integration import told
from tests.integration.told_proposed import declined, proposed
from tests.integration.told_words import LATER, Told
from tests.letters import keep
from tests.school import golden
from tests.school.barring import second_guardian

pytestmark = pytest.mark.django_db


class School(golden.School):
    """Every chapter speaks of Nell, whose guardian Hester answers for nobody else."""

    def __init__(self) -> None:
        super().__init__()
        self.una = cast.make_admin("Una Marsh")
        self.hester = cast.make_user("Hester Vale", "Europe/London")
        self.nell = cast.make_minor("Nell Vale", guardian=self.hester)
        second_guardian(self.nell)
        self.noor = self.marlo = self.nell


def answers(school: School) -> Told:
    """What follows from an answer of the guardian's calendar."""
    booking, hester = school.booked(), school.hester
    more = {"sequence": 0, "now": LATER}
    yield "declined_late", notices.place_stays(hester, [booking], **more)
    yield "cancelling_unproven", notices.cancelling_unproven(hester, bookings=[booking], **more)
    yield "moving_unproven", notices.moving_unproven(hester, bookings=[booking], **more)


def notes(school: School) -> Told:
    """A note that has been released, and a consent that is asked for."""
    note = cast.make_assessment(school.nell, school.ilse)
    yield "assessment", notices.assessment_released(note, now=NOW)
    row = school.hester.guardianships.get()
    yield "consent", notices.consent_asked(row, wording="2026-11", secret="x" * 43, now=NOW)
    yield "consent_withdrawn", notices.consent_withdrawn(row, is_missing=False, now=NOW)


def removed(school: School, row: Guardianship) -> None:
    write(lambda: remove_guardian(actor=school.una, guardianship=row, why="x", now=NOW), now=NOW)


def barred(school: School, row: Guardianship) -> None:
    write(
        lambda: bar_guardian(
            actor=school.una, guardianship=row, why="See the file.", end_bookings=True, now=NOW
        ),
        now=NOW,
    )


@pytest.mark.parametrize("end", [removed, barred])
@pytest.mark.parametrize(
    "chapter",
    [
        told.places,
        told.meetings,
        told.waiting,
        told.weekly,
        told.rooms,
        proposed,
        declined,
        answers,
        notes,
    ],
)
def test_no_unsent_email_about_the_child_is_left(
    chapter: Callable[[School], Told], end: Callable[[School, Guardianship], None]
) -> None:
    """Whatever was written to them before goes; a lesson that was called off still leaves their
    calendar, and the removal itself is told.
    """
    school = School()
    for _, messages in chapter(school):
        keep(messages, NOW)
    before = OutboxMessage.objects.unsent().to(school.hester.pk)
    assert before.exists()
    old = set(before.values_list("pk", flat=True))
    end(school, school.hester.guardianships.get())
    left = OutboxMessage.objects.unsent_or_given_up().filter(pk__in=old)
    assert [(row.kind, row.title) for row in left.exclude(kind="cancellation")] == []
