"""The practice plan: opened, ticked and looked back on, on the student's clock."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Assessment, AuditRow, PracticeTick
from bookings.operations.notes import release_assessment
from bookings.operations.practice import open_practice, tick, untick
from bookings.queries.practice import practised
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db

TODAY = date(2027, 3, 1)
PLAN = [
    {"what": "Scales in thirds", "minutes": 10, "is_review": False},
    {"what": "The study in G", "minutes": 15, "is_review": False},
    {"what": "An old air", "minutes": 5, "is_review": True},
]


class Home:
    """Noor in New York, and Posy, a minor in Sydney whose guardian is Hedda; each has a plan."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.noor = cast.make_student()
        self.hedda = cast.make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
        self.posy = cast.make_minor(guardian=self.hedda)
        self.plan = self.released(self.noor)
        self.childs = self.released(self.posy)

    def released(self, student, *, days_ago: int = 3, **says) -> Assessment:
        released_at = NOW - timedelta(days=days_ago)
        values = {"practice": PLAN, **says}
        return cast.make_assessment(
            student, self.ilse, state="released", released_at=released_at, **values
        )

    def act(self, verb: Callable, actor: User | None = None, now=NOW, **said):
        values = {
            "student_id": self.noor.pk,
            "assessment_id": self.plan.pk,
            "item": 0,
            "on": TODAY,
            **said,
        }
        actor = actor or cast.user_of(self.noor)
        return write(lambda: verb(actor=actor, now=now, **values), now=now)

    def for_posy(self, verb: Callable, actor: User, now=NOW, **said):
        said = {"student_id": self.posy.pk, "assessment_id": self.childs.pk, **said}
        return self.act(verb, actor, now, **said)


@pytest.fixture
def home() -> Home:
    return Home()


def refused(code: str, act: Callable) -> None:
    """The act is refused so, and leaves no tick and no audit row behind."""
    before = PracticeTick.objects.count(), AuditRow.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert (PracticeTick.objects.count(), AuditRow.objects.count()) == before


def test_a_tick_is_noted_once_and_taken_back_once(home):
    """Two tabs tick the same item: one tick, one audit row; taking it back twice is the same."""
    first, again = home.act(tick), home.act(tick)
    assert first == again
    assert (first.ticked_by, first.ticked_at) == (home.noor.user, NOW)
    home.act(untick)
    home.act(untick)
    assert not PracticeTick.objects.exists()
    assert list(AuditRow.objects.order_by("id").values_list("verb", flat=True)) == [
        "ticked",
        "unticked",
    ]


@pytest.mark.parametrize("verb", [tick, untick])
def test_a_tick_out_of_place_is_refused(home, verb):
    """An older day, a day ahead, an item that the plan has not, and a note that is not theirs."""
    refused("past", lambda: home.act(verb, on=TODAY - timedelta(days=2)))
    refused("not-yet", lambda: home.act(verb, on=TODAY + timedelta(days=1)))
    refused("not-found", lambda: home.act(verb, item=3))
    refused("not-found", lambda: home.act(verb, item=-1))
    refused("not-found", lambda: home.act(verb, assessment_id=home.childs.pk))
    draft = cast.make_assessment(home.noor, home.ilse, practice=PLAN)
    refused("not-found", lambda: home.act(verb, assessment_id=draft.pk))
    refused("not-found", lambda: home.act(verb, student_id=999_999))


@pytest.mark.parametrize("verb", [tick, untick])
def test_no_day_before_the_plan_was_given_is_ticked(home, verb):
    """Released on 28 February at 23:30 in New York, where it is 1 March in UTC."""
    plan = home.released(home.noor)
    Assessment.objects.filter(pk=plan.pk).update(released_at=at("2027-03-01T04:30Z"))
    given, before = date(2027, 2, 28), date(2027, 2, 27)
    with pytest.raises(Refused) as caught:
        home.act(verb, assessment_id=plan.pk, on=before, now=at("2027-03-01T04:45Z"))
    assert (caught.value.code, caught.value.detail) == (
        "past",
        "This plan was given on 28 February 2027. Only days since then can be ticked.",
    )
    for now, days in (("2027-03-01T04:45Z", [given]), ("2027-03-01T09:00Z", [TODAY, given])):
        shown = open_practice(reader=cast.user_of(home.noor), student_id=home.noor.pk, now=at(now))
        assert shown.tickable == days
        for on in days:
            home.act(verb, assessment_id=plan.pk, on=on, now=at(now))


def test_midnight_is_on_the_student_s_clock_over_a_clock_change(home):
    """Source: New York moves its clocks on 14 March 2027, so that day ends at 04:00 UTC instead of
    05:00. Ticked a minute before midnight and at midnight.
    """
    saturday, sunday, monday = (date(2027, 3, day) for day in (13, 14, 15))
    refused("not-yet", lambda: home.act(tick, now=at("2027-03-14T04:59Z"), on=sunday))
    home.act(tick, now=at("2027-03-14T05:00Z"), on=sunday)
    refused("not-yet", lambda: home.act(tick, now=at("2027-03-15T03:59Z"), on=monday))
    home.act(tick, now=at("2027-03-15T03:59Z"), on=saturday)
    refused("past", lambda: home.act(tick, now=at("2027-03-15T04:00Z"), on=saturday))
    home.act(tick, now=at("2027-03-15T04:00Z"), on=monday)
    days = practised(home.noor, now=at("2027-03-15T12:00Z")).days
    assert [day.on for day in days if day.minutes] == [saturday, sunday, monday]


def test_a_minor_and_a_guardian_both_tick(home):
    """It is Monday evening in Sydney; the child has an account, too."""
    home.for_posy(tick, home.hedda)
    own = cast.give_account(home.posy)
    home.for_posy(tick, own, item=1)
    assert practised(home.posy, now=NOW).days[-1].minutes == 25


def test_a_guardian_of_a_grown_child_cannot_tick(home):
    """Posy comes of age on 1 March in Sydney; the plan is then the student's alone."""
    home.posy.adult_on = TODAY
    home.posy.save()
    home.for_posy(tick, home.hedda, now=at("2027-02-28T12:59Z"), on=date(2027, 2, 28))
    for now in (at("2027-02-28T13:00Z"), NOW):
        refused("not-found", lambda now=now: home.for_posy(tick, home.hedda, now=now))
        refused(
            "not-found",
            lambda now=now: open_practice(reader=home.hedda, student_id=home.posy.pk, now=now),
        )


def test_a_barred_guardian_cannot_tick_or_read(home):
    """The bar is one guardian's; another one of the same child goes on."""
    other = cast.make_user("Orsola Reed")
    home.posy.guardianships.create(guardian=other)
    home.posy.guardianships.filter(guardian=home.hedda).update(barred_at=NOW, barred_why="A court")
    refused("not-found", lambda: home.for_posy(tick, home.hedda))
    refused(
        "not-found",
        lambda: open_practice(reader=home.hedda, student_id=home.posy.pk, now=NOW),
    )
    home.for_posy(tick, other)


def test_instructors_admins_and_strangers_do_not_tick(home):
    """The author of the plan reads the ticks in the brief, and makes none."""
    for actor in (home.ilse.user, cast.make_admin(), home.hedda):
        refused("not-found", lambda actor=actor: home.act(tick, actor))


def test_a_plan_released_meanwhile_is_told(home):
    """The page shows the older plan: its ticks stay, and no tick is added to it."""
    home.act(tick)
    cast.taught(home.ilse, home.noor, cast.make_offering())
    later = NOW + timedelta(minutes=1)
    draft = cast.make_assessment(home.noor, home.ilse, practice=PLAN[:1])
    write(lambda: release_assessment(actor=home.ilse.user, note=draft, now=later), now=later)
    refused("newer-assessment", lambda: home.act(tick, item=1, now=later))
    refused("newer-assessment", lambda: home.act(untick, now=later))
    shown = open_practice(reader=cast.user_of(home.noor), student_id=home.noor.pk, now=later)
    assert (shown.plan, shown.ticked, shown.practised.count) == (draft, frozenset(), 1)


def test_a_later_note_without_a_plan_leaves_the_plan_in_force(home):
    """A lesson note need not repeat the plan."""
    home.released(home.noor, days_ago=1, practice=[])
    shown = open_practice(reader=cast.user_of(home.noor), student_id=home.noor.pk, now=NOW)
    assert (shown.plan, shown.minutes) == (home.plan, 30)
    home.act(tick)


def test_the_last_fourteen_days_count_every_plan(home):
    """Minutes a day under the plan of that day; the fifteenth day back is left out."""
    older = home.released(
        home.noor, days_ago=40, practice=[{"what": "Study", "minutes": 40, "is_review": False}]
    )
    for days_ago, plan, item in [
        (14, older, 0),
        (13, older, 0),
        (1, home.plan, 0),
        (1, home.plan, 2),
    ]:
        plan.ticks.create(item=item, on=TODAY - timedelta(days=days_ago), ticked_at=NOW)
    told = practised(home.noor, now=NOW)
    assert (told.count, told.most, told.days[-2].minutes) == (2, 40, 15)


def test_opening_the_plan_is_logged_once_a_day(home, django_assert_num_queries):
    """A plan is opened daily and often; each reader's first reading of a day is kept."""
    reader = cast.user_of(home.noor)

    def opened(now):
        return open_practice(reader=reader, student_id=home.noor.pk, now=now)

    with django_assert_num_queries(6):
        opened(NOW)
    with django_assert_num_queries(4):
        opened(NOW + timedelta(hours=1))
    opened(NOW + timedelta(days=1))
    assert [row.relation for row in home.plan.readings.all()] == ["family", "family"]


def test_a_student_without_a_plan_opens_an_empty_one(home):
    """Nothing is logged, and there is nothing to tick."""
    marlo = cast.make_student("Marlo Vance")
    shown = open_practice(reader=cast.user_of(marlo), student_id=marlo.pk, now=NOW)
    assert (shown.plan, shown.steps, shown.minutes, shown.practised.count) == (None, [], 0, 0)
