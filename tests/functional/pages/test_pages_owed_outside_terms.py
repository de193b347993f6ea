"""An owed lesson that no term's account counts, such as a consultation."""

from datetime import date

import pytest

from bookings.domain.vocabulary import OwedCause
from bookings.models import OwedLesson
from tests.cast import NOW
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql


@pytest.fixture
def owed(school: School) -> OwedLesson:
    """Noor's consultation was called off."""
    return OwedLesson.objects.create(
        booking=school.booking,
        student=school.noor,
        offering=school.consultation,
        minutes=school.consultation.minutes,
        cause=OwedCause.CALLED_OFF,
        use_by=date(2027, 5, 1),
        owed_at=NOW,
    )


def test_an_admin_finds_it_in_the_lessons_of_its_student_and_comes_back_there(
    school: School, owed: OwedLesson
) -> None:
    """The family is led to times alone."""
    dag, lessons = as_user(school.dag), f"/my-lessons/?student={school.noor.pk}"
    decide = f'href="/owed/{owed.pk}/"'
    assert decide in dag.get(lessons).content.decode()
    assert decide not in as_user(school.noor.user).get("/my-lessons/").content.decode()
    sent = {"then": "settle", "version": owed.version, "reason": "Refunded.", "sure": "on"}
    done = dag.post(f"/owed/{owed.pk}/", sent, follow=True)
    assert (done.redirect_chain, done.status_code) == ([(lessons, 302)], 200)
    assert "Settled. The family gets an email." in text_of(done)
