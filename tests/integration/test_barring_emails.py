"""What is on its way to a guardian when they are barred, and what stands in their calendar."""

import pytest

from accounts.models import Guardianship, User
from bookings.access import own_students
from bookings.models import KeptAnswer, OutboxMessage
from bookings.operations.resending import send_again
from bookings.outbox.readers import is_theirs
from tests.cast import NOW
from tests.school.barring import WHY, bar, booked, class_of_two, second_guardian, sent, unsent
from tests.school.leaving import School


@pytest.fixture
def school(db: None) -> School:
    return School()


@pytest.fixture
def row(school: School) -> Guardianship:
    """Hedda's guardianship of Posy, for whom Tarn answers too."""
    second_guardian(school.posy)
    return school.hedda.guardianships.get()


def test_unsent_emails_about_the_child_go(school: School, row: Guardianship) -> None:
    """Neither the invitation nor a reminder leaves, and no CANCEL of what never arrived; the second
    guardian gets theirs.
    """
    booked(school, school.posy)
    assert unsent(school.hedda)
    bar(school, row)
    assert unsent(school.hedda) == []
    assert {message.kind for message in unsent(User.objects.get(name="Tarn Reed"))} == {
        "invitation",
        "reminder-24h",
        "reminder-1h",
    }


def test_an_email_on_its_way_is_emptied(school: School, row: Guardianship) -> None:
    """One that was tried keeps its row, without a text, and nobody sends it again."""
    booked(school, school.posy)
    OutboxMessage.objects.to(school.hedda.pk).update(attempts=1)
    bar(school, row)
    for message in OutboxMessage.objects.to(school.hedda.pk).exclude(kind="cancellation"):
        assert (message.state, message.body, message.calendar) == ("superseded", "", "")


def test_the_calendar_gets_one_bare_cancel_a_meeting(school: School, row: Guardianship) -> None:
    """RFC 5546 section 3.2.5: METHOD CANCEL, the same UID, a higher SEQUENCE. No reason, no name of
    the child or the instructor, no address to join.
    """
    lesson = booked(school, school.posy)
    sent(school.hedda)
    bar(school, row)
    (message,) = unsent(school.hedda)
    assert (message.method, message.sequence) == ("CANCEL", 1)
    assert str(lesson.meeting.uid) in message.calendar.replace("\r\n ", "")
    told = message.title + message.body + message.calendar.replace("\r\n ", "")
    for word in ("Posy", "Quarrow", "Ilse", "rooms.", "barred", "court"):
        assert word not in told, word


def test_what_was_cancelled_in_the_calendar_before_is_not_cancelled_again(
    school: School, row: Guardianship
) -> None:
    """The last thing that left was a CANCEL."""
    booked(school, school.posy)
    sent(school.hedda)
    first = OutboxMessage.objects.get(recipient=school.hedda, method="REQUEST")
    first.pk, first.method, first.sequence = None, "CANCEL", 1
    first.kind, first.state_key = "cancellation", "sequence:1"
    first.save()
    bar(school, row)
    assert unsent(school.hedda) == []


def test_a_sibling_in_the_same_class_stays(school: School, row: Guardianship) -> None:
    """The invitation and the reminders are written anew, about the sibling alone."""
    _, lark = class_of_two(school)
    bar(school, row)
    assert own_students(school.hedda, now=NOW) == [lark]
    messages = unsent(school.hedda)
    assert [message.kind for message in messages] == ["invitation", "reminder-24h", "reminder-1h"]
    for message in messages:
        assert "Posy" not in message.title + message.body
        assert "Lark" in message.body


def test_a_sibling_s_entry_stays_in_the_calendar(school: School, row: Guardianship) -> None:
    """An entry that has left names nobody, so nothing is sent about it."""
    class_of_two(school)
    sent(school.hedda)
    bar(school, row)
    assert {message.kind for message in unsent(school.hedda)} == {"reminder-24h", "reminder-1h"}


def test_kept_answers_go(school: School, row: Guardianship) -> None:
    """A retry with an old key is judged anew; those of other people stay."""
    for user in (school.hedda, school.dag):
        KeptAnswer.objects.create(
            user=user, method="POST", path="/x/", key="k", fingerprint="f", status=201, made_at=NOW
        )
    bar(school, row)
    assert [answer.user for answer in KeptAnswer.objects.all()] == [school.dag]


def test_a_guardian_who_teaches_the_child_keeps_the_lesson(school: School) -> None:
    """The bar is about the guardian: the entry of the lesson that they teach stays, and the
    reminders to the family go.
    """
    second_guardian(school.posy)
    row = school.posy.guardianships.create(guardian=school.ilse.user)
    booked(school, school.posy)
    bar(school, row)
    assert [message.kind for message in unsent(school.ilse.user)] == ["invitation"]


def test_a_reminder_that_slipped_through_never_leaves(school: School, row: Guardianship) -> None:
    """Whether it still concerns its reader is asked when it is sent."""
    booked(school, school.posy)
    reminder = OutboxMessage.objects.get(recipient=school.hedda, kind="reminder-1h")
    assert is_theirs(reminder, NOW)
    Guardianship.objects.filter(pk=row.pk).update(
        barred_at=NOW, barred_by=school.dag, barred_why=WHY
    )
    assert not is_theirs(reminder, NOW)


def test_an_email_that_has_left_is_not_sent_again(school: School, row: Guardianship) -> None:
    """Neither by the office nor because a calendar asks: its text is erased."""
    booked(school, school.posy)
    sent(school.hedda)
    bar(school, row)
    message = OutboxMessage.objects.get(recipient=school.hedda, method="REQUEST")
    assert (message.state, message.body, message.calendar) == ("sent", "", "")
    school.refused("already-ended", send_again, message=message)
