"""The caution about pain and hearing on the brief: shown where somebody speaks of either."""

import pytest

from bookings.models import Intake
from tests.cast import NOW
from tests.functional.pages.school import School, as_user, text_of

CAUTION = "Stop if it hurts: pain is a reason to rest"


@pytest.mark.parametrize(
    ("written", "is_shown"),
    [
        ("My wrist is aching after ten minutes.", True),
        ("The ring finger goes numb.", True),
        ("My teacher says it reaches a number of people, bringing them together.", False),
    ],
)
def test_the_brief_shows_the_caution_only_where_pain_is_spoken_of(
    school: School, written: str, is_shown: bool
) -> None:
    """A word inside another word is not that word: a teacher is no ache."""
    Intake.objects.create(booking=school.booking, obstacle=written, written_at=NOW)
    page = text_of(as_user(school.ilse.user).get(f"/brief/{school.booking.pk}/"))
    assert (CAUTION in page) is is_shown
