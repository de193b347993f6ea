"""A barred guardian reads, does and gets nothing about the child, from that instant on."""

from datetime import timedelta

import pytest

from accounts.models import Guardianship, User
from bookings.access import own_students, reading_relation
from bookings.domain.errors import Refused
from bookings.models import AuditRow, Booking, OutboxMessage
from bookings.operations.barring import bar_guardian, lift_bar
from bookings.operations.consents import ask_for_consent, give_consent
from bookings.operations.guardians import remove_guardian, withdraw_consent
from bookings.operations.invitations import come_in, invite
from bookings.queries.consents import has_consent
from tests import cast
from tests.cast import NOW, at
from tests.school.barring import WHY, bar, booked, second_guardian, sent, unsent
from tests.school.leaving import School, live


@pytest.fixture
def school(db: None) -> School:
    return School()


@pytest.fixture
def row(school: School) -> Guardianship:
    """Hedda's guardianship of Posy, for whom Tarn answers too."""
    second_guardian(school.posy)
    return school.hedda.guardianships.get()


def test_a_bar_shuts_the_child_to_the_guardian(school: School, row: Guardianship) -> None:
    """They act for nobody and read no note; the second guardian stays, and the lesson with them."""
    school.fill(school.posy)
    note = cast.make_assessment(school.posy, school.ilse, state="released", released_at=NOW)
    assert reading_relation(school.hedda, note, now=NOW) == "family"
    before = live(school.posy)
    bar(school, row)
    assert own_students(school.hedda, now=NOW) == []
    assert reading_relation(school.hedda, note, now=NOW) is None
    assert live(school.posy) == before
    row.refresh_from_db()
    assert (row.barred_at, row.barred_by, row.barred_why) == (NOW, school.dag, WHY)
    audit = AuditRow.objects.get(verb="barred guardian")
    assert (audit.thing_id, audit.reason) == (row.pk, "")


def test_an_open_consent_form_closes(school: School) -> None:
    """Its link is dead, and an old signed-in form says no more than that."""
    row = school.posy.guardianships.get()
    Guardianship.objects.filter(pk=row.pk).update(consent_at=None, consent_wording="")
    second_guardian(school.posy)
    ask_for_consent(student_id=school.posy.pk, now=NOW)
    body = OutboxMessage.objects.get(kind="consent", recipient=school.hedda).body
    secret = body.split("/consent/")[1].split("/")[0]
    bar(school, row)
    with pytest.raises(Refused, match="no longer open"):
        give_consent(secret=secret, wording="2026-11", now=NOW)
    assert not ask_for_consent(student_id=school.posy.pk, now=NOW)
    assert not OutboxMessage.objects.filter(kind="consent", recipient=school.hedda).exists()


def test_their_consent_no_longer_counts(school: School) -> None:
    """The second guardian has not agreed: lessons ahead end free of charge, once that is said."""
    row = school.posy.guardianships.get()
    tarn = second_guardian(school.posy, consent=False)
    school.fill(school.posy)
    school.refused("has-bookings", bar_guardian, guardianship=row, why=WHY)
    bar(school, row, end_bookings=True)
    assert live(school.posy) == (0, 0)
    assert not has_consent(school.posy, now=NOW)
    ended = Booking.objects.get(meeting__starts_at=at("2027-03-09T10:00Z"), student=school.posy)
    assert ended.ended_why == "called-off"
    told = [message.body for message in unsent(tarn)]
    assert any("No guardian’s consent to live lessons is on file." in body for body in told)
    assert not any(WHY in message.body for message in OutboxMessage.objects.all())
    assert unsent(school.hedda) == []


def test_a_consent_that_stands_keeps_the_lessons(school: School, row: Guardianship) -> None:
    """Nothing has to be agreed to, and nothing ends."""
    booked(school, school.posy)
    bar(school, row)
    assert has_consent(school.posy, now=NOW)
    assert live(school.posy) == (1, 0)


def test_the_last_guardian_is_replaced_first(school: School) -> None:
    """A second one with a closed account, or barred, answers for nobody."""
    row = school.posy.guardianships.get()
    school.refused("last-guardian", bar_guardian, guardianship=row, why=WHY)
    tarn = second_guardian(school.posy)
    bar(school, tarn.guardianships.get())
    school.refused("last-guardian", bar_guardian, guardianship=row, why=WHY)


def test_the_guardian_of_a_grown_student_with_an_account_may_be_the_last(school: School) -> None:
    """The student acts for themselves."""
    row = school.posy.guardianships.get()
    cast.give_account(school.posy)
    school.posy.adult_on = NOW.date() - timedelta(days=2)
    school.posy.save()
    row = Guardianship.objects.get(pk=row.pk)
    bar(school, row)
    row.refresh_from_db()
    assert row.barred_at == NOW


@pytest.mark.parametrize("why", ["", "  ", "x" * 201])
def test_a_bar_needs_a_reason(school: School, row: Guardianship, why: str) -> None:
    """Up to 200 characters."""
    school.refused("invalid", bar_guardian, guardianship=row, why=why)


def test_two_admins_bar_at_once(school: School, row: Guardianship) -> None:
    """The second is told so, and the first reason stays."""
    bar(school, row)
    school.refused("already-done", bar_guardian, guardianship=row, why="Another reason.")
    row.refresh_from_db()
    assert row.barred_why == WHY


def test_a_guardian_who_is_an_admin_decides_nothing_about_themselves(school: School) -> None:
    """They neither bar themselves nor lift their bar; another admin does."""
    second_guardian(school.posy)
    row = school.posy.guardianships.create(guardian=school.dag)
    school.refused("not-allowed", bar_guardian, guardianship=row, why=WHY)
    other = cast.make_admin("Ida Quince")
    bar_guardian(actor=other, guardianship=row, why=WHY, now=NOW)
    school.refused("not-allowed", lift_bar, guardianship=row)
    assert own_students(school.dag, now=NOW) == []


def test_nobody_is_barred_by_others_than_admins(school: School, row: Guardianship) -> None:
    """Nor is a bar lifted."""
    tarn = User.objects.get(name="Tarn Reed")
    for act in (
        lambda: bar_guardian(actor=tarn, guardianship=row, why=WHY, now=NOW),
        lambda: lift_bar(actor=tarn, guardianship=row, now=NOW),
    ):
        with pytest.raises(Refused) as caught:
            act()
        assert caught.value.code == "not-allowed"


def test_a_barred_guardian_is_not_invited_again(school: School, row: Guardianship) -> None:
    """Neither by an older link nor by a new one; for another child they may be."""
    again = {"email": school.hedda.email, "name": "Hedda", "guardian_of": school.posy}
    school.do(invite, **again)
    body = OutboxMessage.objects.get(kind="welcome").body
    secret = body.split("/welcome/")[1].split("/")[0]
    bar(school, row)
    with pytest.raises(Refused) as caught:
        come_in(secret=secret, name="Hedda", time_zone="Europe/Dublin", password="x", now=NOW)
    assert caught.value.code == "not-found"
    school.refused("not-allowed", invite, **again)
    lark = cast.make_minor("Lark Reed", guardian=cast.make_user("Rue Reed"))
    assert school.do(invite, **{**again, "guardian_of": lark}).guardian_of == lark


def test_a_bar_is_not_forgotten_by_removing_the_guardian(school: School, row: Guardianship) -> None:
    """The record stays as long as the bar."""
    bar(school, row)
    school.refused("not-allowed", remove_guardian, guardianship=row)


def test_a_barred_guardian_withdraws_no_consent(school: School, row: Guardianship) -> None:
    """It does not count any more; the other guardians get no email about it."""
    bar(school, row)
    with pytest.raises(Refused) as caught:
        withdraw_consent(actor=school.hedda, guardianship=row, now=NOW)
    assert caught.value.code == "already-ended"


def test_a_lifted_bar_leaves_all_as_before(school: School, row: Guardianship) -> None:
    """They act again, their consent counts, the reminders are written anew; a second time there is
    nothing to lift.
    """
    booked(school, school.posy)
    sent(school.hedda)
    bar(school, row)
    school.do(lift_bar, guardianship=row)
    row.refresh_from_db()
    assert (row.barred_at, row.barred_by, row.barred_why) == (None, None, "")
    assert own_students(school.hedda, now=NOW) == [school.posy]
    reminders = {message.kind for message in unsent(school.hedda)} - {"cancellation"}
    assert reminders == {"reminder-24h", "reminder-1h"}
    school.refused("already-ended", lift_bar, guardianship=row)
