"""The studio policy: a new version is shown before it is saved."""

from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.models import StudioPolicy
from tests.cast import at, make_booking, make_meeting
from tests.functional.pages.policies import typed_rules
from tests.functional.pages.school import School, as_user, text_of


def test_the_page_says_the_rules_in_force_and_every_version(school: School) -> None:
    """One sentence a rule."""
    page = text_of(as_user(school.dag).get("/policy/"))
    assert "In force now: version 1" in page
    assert "Families can cancel free of charge until 24 hours before the start." in page


def test_nothing_is_saved_before_it_was_shown(school: School) -> None:
    """The first button says what changes and what it has been; the second saves it."""
    dag, typed = as_user(school.dag), typed_rules(version=1, notice_minutes="48")
    page = text_of(dag.post("/policy/new/", typed))
    assert (
        "Families can cancel free of charge until 48 hours before the start. "
        "Until now: 24 hours." in page
    )
    assert page.count("Until now:") == 1
    assert "Bookings made before keep the old rules" in page
    assert "Nothing that is booked would be against the new rules." in page
    assert StudioPolicy.objects.count() == 1
    assert dag.post("/policy/new/", {**typed, "act": "save"}).url == "/policy/"
    newest = StudioPolicy.objects.get(version=2)
    assert newest.notice_minutes == 2880
    school.booking.refresh_from_db()
    assert school.booking.policy.version == 1


def test_what_was_typed_can_be_changed_again_from_the_preview(school: School) -> None:
    """The form comes back with every value."""
    typed = typed_rules(version=1, notice_minutes="36:30", act="edit")
    answer = as_user(school.dag).post("/policy/new/", typed)
    assert answer.status_code == 200
    assert 'value="36:30"' in text_of(answer)


def test_a_policy_that_forbids_what_is_booked_says_how_much(school: School) -> None:
    """A minor's lesson outside the new hours; it stays booked."""
    early = make_meeting(school.consultation, school.ilse, at("2027-03-15T21:00Z"))
    booked = make_booking(early, school.posy)  # 08:00 in Sydney
    typed = typed_rules(version=1, minor_opens="09:00")
    page = text_of(as_user(school.dag).post("/policy/new/", typed))
    assert "1 place ahead is outside the new hours of students under 18." in page
    as_user(school.dag).post("/policy/new/", {**typed, "act": "save"})
    booked.refresh_from_db()
    assert booked.standing == "HELD"


def test_a_version_begins_at_midnight_on_the_admin_s_clock(school: School) -> None:
    """Dag's clock is Dublin, in summer time by then; the version ahead is told apart."""
    dag, typed = as_user(school.dag), typed_rules(version=1, in_force_on="2027-04-01")
    assert "1 April 2027, 00:00" in text_of(dag.post("/policy/new/", typed))
    dag.post("/policy/new/", {**typed, "act": "save"})
    ahead = StudioPolicy.objects.get(version=2)
    assert ahead.in_force_from == datetime(2027, 3, 31, 23, tzinfo=UTC)
    assert "<b>ahead</b>" in text_of(dag.get("/policy/"))
    page = text_of(dag.post("/policy/new/", typed_rules(version=2)))
    assert "Version 2, planned from 1 April 2027, will never be in force" in page


def test_a_form_of_an_older_version_is_refused(school: School) -> None:
    """Two admins wrote one at the same time: the second reads the first one's before."""
    dag, typed = as_user(school.dag), typed_rules(version=1, notice_minutes="48", act="save")
    dag.post("/policy/new/", typed)
    late = dag.post("/policy/new/", typed_rules(version=1, notice_minutes="12", act="save"))
    assert late.status_code == 412
    assert 'value="12"' in text_of(late)
    assert StudioPolicy.objects.count() == 2


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("notice_minutes", "a day"),
        ("notice_minutes", "1:75"),
        ("notice_minutes", "9999"),
        ("horizon_days", "0"),
        ("minor_opens", "21:00"),
        ("changeover_short_minutes", "7"),
        ("lead_time_minutes", "720"),
        ("in_force_on", "never"),
    ],
)
def test_what_cannot_be_a_rule_comes_back_at_its_field(
    school: School, field: str, typed: str
) -> None:
    """Nothing is shown or saved; lead time is longer than the horizon in the last but one."""
    rules = typed_rules(version=1, horizon_days="20") | {field: typed}
    answer = as_user(school.dag).post("/policy/new/", rules)
    assert answer.status_code == 422
    assert "Some fields need another look" in text_of(answer)


@pytest.mark.parametrize("act", ["", "save"])
def test_rules_cannot_begin_in_the_past(school: School, act: str) -> None:
    """What has been booked since then kept other rules. The preview says so already."""
    typed = typed_rules(version=1, in_force_on="2027-02-01", act=act)
    answer = as_user(school.dag).post("/policy/new/", typed)
    assert answer.status_code == 409
    assert StudioPolicy.objects.count() == 1


def test_the_preview_asks_the_database_at_most_twelve_times(school: School) -> None:
    """With every rule that is counted stricter than before."""
    stricter = {
        "minor_opens": "09:00",
        "horizon_days": "5",
        "open_consultations": "1",
        "day_minutes": "1",
    }
    dag, typed = as_user(school.dag), typed_rules(version=1, **stricter)
    with CaptureQueriesContext(connection) as seen:
        assert dag.post("/policy/new/", typed).status_code == 200
    assert len(seen) <= 12
