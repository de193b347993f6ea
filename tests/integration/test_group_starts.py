"""Making and moving a group meeting asks the instructor's time as a lesson does."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, LoadAllowance, Meeting
from bookings.operations.days_away import go_away
from bookings.operations.load_allowances import allow_over_load
from bookings.operations.meetings import change_meeting
from tests import cast
from tests.cast import NOW, at
from tests.school.groups import Class

NIGHT = at("2027-03-13T21:30Z")
"""Half past nine in the evening in Dublin, a Saturday."""


@pytest.fixture
def school(db: None) -> Class:
    """Ilse teaches from nine to nine in Dublin; their class is on Sunday 14 March at 17:00."""
    school = Class()
    school.ilse.week.windows.all().delete()
    cast.publish(school.ilse, cast.EVERY_DAY)
    return school


def refusal(act) -> Refused:
    meetings = Meeting.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert (Meeting.objects.count(), LoadAllowance.objects.count()) == (meetings, 0)
    return caught.value


def move(school: Class, starts_at, actor=None) -> Meeting:
    act = {"actor": actor or school.admin, "meeting": school.meeting, "starts_at": starts_at}
    return write(lambda: change_meeting(**act, now=NOW), now=NOW)


def test_an_admin_does_not_put_a_meeting_outside_the_teaching_hours(school: Class) -> None:
    """Neither a new one nor one that moves. The refusal says who can allow it."""
    for act in (lambda: school.make(NIGHT), lambda: move(school, NIGHT)):
        said = refusal(act)
        assert (said.code, said.data) == ("instructor-may-allow", {"rules": ["outside-hours"]})
        assert "Only Ilse Quarrow can allow this time" in said.detail


def test_an_admin_does_not_put_a_meeting_on_a_day_away(school: Class) -> None:
    """The sentence tells days away from hours."""
    away = at("2027-03-20T12:00Z").date()
    write(
        lambda: go_away(
            actor=school.ilse.user,
            instructor=school.ilse,
            first_on=away,
            last_on=away,
            time_zone="Europe/Dublin",
            now=NOW,
        ),
        now=NOW,
    )
    said = refusal(lambda: school.make(at("2027-03-20T12:00Z")))
    assert said.code == "instructor-may-allow"
    assert said.detail.startswith("Ilse Quarrow is away then.")


def test_a_meeting_counts_into_the_load(school: Class) -> None:
    """An hour right after two: more than 120 minutes in a row. Source: TRADE.md 1.3, a break after
    at most 120 minutes of teaching is this project's proposal.
    """
    school.make(at("2027-03-14T15:50Z"))
    said = refusal(lambda: school.make(at("2027-03-14T18:10Z")))
    assert (said.code, said.data["rules"]) == ("instructor-may-allow", ["load-run"])
    assert "at most 120 are taught before a rest" in said.detail


def test_the_instructors_yes_lets_the_meeting_in_and_is_kept(school: Class) -> None:
    """Their allowance for that very start, given before."""
    allow = {"actor": school.ilse.user, "instructor": school.ilse, "starts_at": NIGHT}
    write(lambda: allow_over_load(**allow, now=NOW), now=NOW)
    assert school.make(NIGHT).starts_at == NIGHT
    with pytest.raises(Refused) as caught:
        school.make(NIGHT + timedelta(hours=2))
    assert caught.value.code == "instructor-may-allow"
    assert LoadAllowance.objects.get().allowed_by == school.ilse.user


def test_an_instructor_who_moves_their_own_meeting_says_yes_with_it(school: Class) -> None:
    """The yes is a row and an audit row, as if it had been given before."""
    assert move(school, NIGHT, actor=school.ilse.user).starts_at == NIGHT
    kept = LoadAllowance.objects.get()
    assert (kept.instructor, kept.starts_at) == (school.ilse, NIGHT)
    assert AuditRow.objects.filter(verb="allowed over load").count() == 1


def test_a_move_within_the_hours_keeps_no_yes(school: Class) -> None:
    """Nothing had to give way."""
    move(school, at("2027-03-13T12:00Z"), actor=school.ilse.user)
    assert not LoadAllowance.objects.exists()


def test_a_clash_never_gives_way(school: Class) -> None:
    """Not even to the instructor, who allowed the start."""
    other = school.make(at("2027-03-13T12:00Z"))
    ilse = school.ilse.user
    allow = {"actor": ilse, "instructor": school.ilse, "starts_at": other.starts_at}
    write(lambda: allow_over_load(**allow, now=NOW), now=NOW)
    with pytest.raises(Refused) as caught:
        move(school, other.starts_at, actor=ilse)
    assert caught.value.code == "taken"


def test_a_minors_night_never_gives_way(school: Class) -> None:
    """A child of the roster in Dublin; the instructor moves the meeting to 21:30 there."""
    child = cast.make_minor(time_zone="Europe/Dublin")
    cast.make_booking(school.meeting, child)
    assert refusal(lambda: move(school, NIGHT, actor=school.ilse.user)).code == "minor-hours"


def test_only_what_the_instructor_teaches_is_made_for_them(school: Class) -> None:
    """Another offering of the school is not theirs."""
    school.ilse.teaches.all().delete()
    for act in (
        lambda: school.make(at("2027-03-13T12:00Z")),
        lambda: move(school, at("2027-03-13T12:00Z")),
    ):
        assert refusal(act).code == "not-taught"


def test_a_busy_time_is_in_the_way(school: Class) -> None:
    """A time that the instructor's own calendar holds is as taken as a meeting."""
    calendar = school.ilse.user.busy_calendars.create(name="Mine", added_at=NOW)
    calendar.periods.create(starts_at=at("2027-03-13T12:00Z"), ends_at=at("2027-03-13T13:00Z"))
    said = refusal(lambda: school.make(at("2027-03-13T12:30Z")))
    assert (said.code, "is busy then" in said.detail) == ("taken", True)
