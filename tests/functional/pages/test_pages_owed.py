"""Owed lessons, make-ups and the account of a term as pages, without JavaScript."""

import re
from datetime import date, timedelta

import pytest
from django.test import Client

from bookings.domain.vocabulary import Attendance
from bookings.models import Booking, OwedLesson
from tests import cast
from tests.cast import at
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import as_user, text_of
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.sql

BOOK = "/times/book/"


@pytest.fixture
def taught(db: None) -> OwedSchool:
    """Marlo has the Tuesdays of the spring term with Ilse."""
    return OwedSchool()


def words(client: Client, address: str, **query: object) -> str:
    return " ".join(text_of(client.get(address, query)).split())


def test_an_owed_lesson_is_made_up_from_my_lessons(taught: OwedSchool, hands: Hands) -> None:
    """What is owed and until when; the times for it; the booking, which settles it; and a second
    press changes nothing.
    """
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    (owed,) = taught.owed()
    hands.at = at("2027-01-20T09:00Z")
    marlo = as_user(taught.marlo.user)
    mine = words(marlo, "/my-lessons/")
    assert "You are owed a lesson: <b>Harp lesson</b>, 45 minutes" in mine
    assert "Use it by <strong>19 April 2027</strong>." in mine
    assert f"/times/?student={taught.marlo.pk}&amp;owed={owed.pk}" in mine
    times = words(marlo, "/times/", owed=owed.pk, since="2027-01-26")
    assert "It has to begin by <strong>19 April 2027</strong>." in times
    start = f"{taught.ilse.pk}@2027-01-26T18:00:00Z"
    assert f"offering={taught.lesson.pk}&amp;owed={owed.pk}&amp;start={start}" in times
    chosen = {"offering": taught.lesson.pk, "owed": owed.pk, "start": start}
    shown = words(marlo, BOOK, **chosen)
    assert "A make-up lesson, to begin by <strong>19 April 2027</strong>." in shown
    for _ in range(2):
        assert marlo.post(BOOK, chosen).status_code == 302
    assert Booking.objects.get(makes_up=owed).starts_at == at("2027-01-26T18:00Z")
    mine = words(marlo, "/my-lessons/")
    assert ", a make-up lesson: booked." in mine
    assert (
        "Until then you can move it, too. If you cancel it, you can choose another time for this "
        "make-up lesson until 19 April 2027."
    ) in mine
    assert "You are owed a lesson" not in mine


def test_a_time_after_the_use_by_date_is_refused_before_it_is_asked_for(
    taught: OwedSchool, hands: Hands
) -> None:
    """The page of that start says so, and so does the booking."""
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    OwedLesson.objects.update(use_by=date(2027, 1, 25))
    (owed,) = taught.owed()
    hands.at = at("2027-01-20T09:00Z")
    start = f"{taught.ilse.pk}@2027-01-26T18:00:00Z"
    chosen = {"offering": taught.lesson.pk, "owed": owed.pk, "start": start}
    marlo = as_user(taught.marlo.user)
    assert "has to begin by 25 January 2027" in words(marlo, BOOK, **chosen)
    refused = marlo.post(BOOK, chosen)
    assert refused.status_code == 409
    assert "has to begin by 25 January 2027" in text_of(refused)


def days_shown(page: str) -> set[str]:
    """The dates of the starts that lead to a booking or a move."""
    return set(re.findall(r"start=\d+@(\d{4}-\d\d-\d\d)T", page))


def test_the_times_for_a_make_up_lesson_stop_at_its_use_by_date(
    taught: OwedSchool, hands: Hands
) -> None:
    """No later start, day or week is listed to book it or to move it, whoever looks. Ilse teaches
    on Tuesdays.
    """
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    OwedLesson.objects.update(use_by=date(2027, 1, 26))
    (owed,) = taught.owed()
    hands.at = at("2027-01-20T09:00Z")
    marlo = as_user(taught.marlo.user)
    for since in ("2027-01-22", "2027-02-10"):
        page = words(marlo, "/times/", owed=owed.pk, since=since)
        assert days_shown(page) == {"2027-01-26"}
        assert "Later days" not in page and "27 January" not in page
    make_up = taught.make_up(owed, at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    for who in (taught.marlo.user, taught.ilse.user):
        page = words(as_user(who), f"/my-lessons/{make_up.pk}/move/", since="2027-01-22")
        assert days_shown(page) == {"2027-01-26"}
        assert "Later days" not in page
    late = {"start": f"{taught.ilse.pk}@2027-02-02T18:00:00Z", "version": make_up.version}
    refused = marlo.post(f"/my-lessons/{make_up.pk}/move/", late)
    assert refused.status_code == 409
    assert "has to begin by 26 January 2027" in text_of(refused)


def test_no_time_near_a_refused_one_lies_after_the_use_by_date(
    taught: OwedSchool, hands: Hands
) -> None:
    """What is offered instead can be booked."""
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    OwedLesson.objects.update(use_by=date(2027, 1, 26))
    (owed,) = taught.owed()
    hands.at = at("2027-01-20T09:00Z")
    for starts_at in ("2027-01-26T16:05:00Z", "2027-02-02T18:00:00Z"):
        start = f"{taught.ilse.pk}@{starts_at}"
        chosen = {"offering": taught.lesson.pk, "owed": owed.pk, "start": start}
        refused = as_user(taught.marlo.user).post(BOOK, chosen)
        assert refused.status_code in (409, 422)
        near = set(re.findall(r'value="\d+@(\d{4}-\d\d-\d\d)T', text_of(refused)))
        assert near == {"2027-01-26"}


def test_another_familys_owed_lesson_is_not_there(taught: OwedSchool, hands: Hands) -> None:
    """Neither its times, nor its booking, nor the account."""
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    hands.at = at("2027-01-20T09:00Z")
    other = as_user(cast.make_student("Noor Ashgrove", level=2).user)
    owed = taught.owed()[0].pk
    for address in (f"/times/?owed={owed}", f"/terms/1/accounts/{taught.marlo.pk}/"):
        assert other.get(address).status_code == 404


def test_the_limit_is_said_beside_free_of_charge_before_the_family_cancels(
    taught: OwedSchool, hands: Hands
) -> None:
    """Source: two make-ups a semester, published by colleges (TRADE.md 1.8). Scenario 20: the
    deadline is 24 elapsed hours before, and a minute later the page says what it costs.
    """
    taught.cancel(taught.lesson_on(date(2027, 1, 19)))
    lesson = taught.lesson_on(date(2027, 3, 16))
    marlo, address = as_user(taught.marlo.user), f"/my-lessons/{lesson.pk}/cancel/"
    hands.at = lesson.starts_at - timedelta(hours=24)
    assert (
        "You can cancel free of charge until <strong>Monday 15 March, 12:30 (New York)</strong>. "
        "It is the second of two you may make up this term."
    ) in words(marlo, address)
    assert "It is the second of two you may make up this term." in words(marlo, "/my-lessons/")
    hands.at += timedelta(minutes=1)
    late = words(marlo, address)
    assert "A late cancellation is allowed and is charged: the lesson counts as given." in late
    hands.at -= timedelta(hours=1)
    taught.cancel(taught.lesson_on(date(2027, 2, 23)))
    assert (
        "You have used the two you may make up this term, so this lesson will not be made up."
    ) in words(marlo, address)


def test_a_family_reads_its_account_with_the_lessons_behind_each_number(
    taught: OwedSchool, hands: Hands
) -> None:
    """Scenario 22: the missed make-up is closed, not owed again, and twelve are still promised."""
    taught.mark(taught.lesson_on(date(2027, 1, 12)), Attendance.PRESENT)
    taught.call_off(taught.lesson_on(date(2027, 1, 19)))
    make_up = taught.make_up(taught.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    taught.mark(make_up, Attendance.ABSENT_WITHOUT_NOTICE)
    hands.at = at("2027-01-26T21:00Z")
    marlo = as_user(taught.marlo.user)
    address = f"/terms/{taught.term.pk}/accounts/{taught.marlo.pk}/"
    assert address in words(marlo, "/my-lessons/")
    page = words(marlo, address)
    assert "<dt>Promised</dt><dd>12</dd>" in page
    assert "Of these 12 lessons:" in page
    assert (
        "Tuesday 19 January, 11:30: called off by the school. "
        "Make-up lesson on Tuesday 26 January, 13:00: missed without notice."
    ) in page
    assert '<a href="#to-come">To come</a></dt><dd>9</dd>' in page
    assert "Carry a lesson in" not in page


def test_an_admin_reads_all_accounts_searches_them_and_takes_them_away(
    taught: OwedSchool, hands: Hands
) -> None:
    """A name that a spreadsheet would run is made harmless (OWASP, "CSV Injection")."""
    taught.marlo.user.name = "=Marlo Vance"
    taught.marlo.user.save()
    hands.at = at("2027-01-08T09:00Z")
    dag, address = as_user(taught.dag), f"/terms/{taught.term.pk}/accounts"
    assert "=Marlo Vance" in words(dag, f"{address}/")
    assert "No student matches." in words(dag, f"{address}/", q="Nobody")
    file = dag.get(f"{address}.csv")
    assert file["Content-Type"].startswith("text/csv")
    assert "'=Marlo Vance,12,0,0,0,12,0,0,0,0,0" in text_of(file)


def test_an_admin_carries_in_extends_settles_and_carries_out(
    taught: OwedSchool, hands: Hands
) -> None:
    """Each with a reason, bound to the version that was read; a form keeps what was typed."""
    hands.at = at("2027-01-08T09:00Z")
    dag = as_user(taught.dag)
    account = f"/terms/{taught.term.pk}/accounts/{taught.marlo.pk}/"
    typed = {"offering": taught.lesson.pk, "use_by": "2027-04-09", "reason": "From autumn."}
    assert dag.post(account, {**typed, "reason": ""}).status_code == 422
    assert dag.post(account, {**typed, "use_by": "2027-01-01"}).status_code == 409
    assert dag.post(account, typed).status_code == 302
    (owed,) = taught.owed()
    page = f"/owed/{owed.pk}/"
    assert f'href="{page}"' in words(dag, account)
    assert "To be made up by 9 April 2027. Why: From autumn." in words(dag, account)
    later = {"then": "extend", "use_by": "2027-05-01", "reason": "Ill.", "version": 1}
    assert dag.post(page, later).status_code == 302
    stale = dag.post(page, {**later, "reason": "Twice"})
    assert stale.status_code == 412
    assert "Twice" in text_of(stale)
    settled = {"then": "settle", "reason": "Refunded.", "version": 2}
    assert "Tick this first" in text_of(dag.post(page, settled))
    settled["sure"] = "on"
    assert dag.post(page, settled).status_code == 302
    assert "Settled by the school. Why: Refunded." in words(dag, account)
    assert "This owed lesson has been settled." in words(dag, page)
