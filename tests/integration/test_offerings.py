"""Offerings, who teaches them and the studio policy, as operations write them."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.vocabulary import Kind
from bookings.models import AuditRow, Offering, StudioPolicy, Teaches
from bookings.operations import offerings
from bookings.operations.offerings import OfferingValues, change_offering, set_teaches
from bookings.operations.policies import new_policy
from bookings.queries.policy_effects import Effects, effects_of
from tests.cast import (
    NOW,
    at,
    make_admin,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_policy,
    make_student,
    teaches,
)

pytestmark = pytest.mark.django_db


TALK: offerings.OfferingValues = {"name": "Talk", "kind": Kind.CONSULTATION, "minutes": 25}


def code_of(refused: pytest.ExceptionInfo[Refused]) -> str:
    return refused.value.code


def test_nobody_but_an_admin_writes_them() -> None:
    """Refused before anything is read or locked."""
    ilse, offering = make_instructor(), make_offering()
    for act in (
        lambda: offerings.make_offering(actor=ilse.user, values=TALK, now=NOW),
        lambda: change_offering(actor=ilse.user, offering=offering, values={}, now=NOW),
        lambda: set_teaches(
            actor=ilse.user, offering=offering, instructor=ilse, levels=(1, 10), now=NOW
        ),
        lambda: new_policy(actor=ilse.user, rules=Policy(), now=NOW),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert code_of(refused) == "not-allowed"
    assert (Offering.objects.count(), StudioPolicy.objects.count()) == (1, 0)


def test_what_is_made_and_changed_is_recorded_by_field() -> None:
    """Ids, verbs and names of fields; a change that changes nothing writes nothing."""
    dag = make_admin()
    made = offerings.make_offering(actor=dag, values=TALK, now=NOW)
    change_offering(actor=dag, offering=made, version=1, values={"minutes": 25}, now=NOW)
    changed = change_offering(
        actor=dag, offering=made, version=1, values={"minutes": 50, "name": "Long talk"}, now=NOW
    )
    assert (changed.minutes, changed.version) == (50, 2)
    rows = AuditRow.objects.order_by("pk").values_list("verb", "thing_id", "fields")
    assert list(rows) == [("made", made.pk, []), ("changed", made.pk, ["minutes", "name"])]


def test_the_kind_and_length_of_what_was_booked_stay() -> None:
    """Its name, grid and changeover may still change."""
    dag, ilse, offering = make_admin(), make_instructor(), make_offering()
    make_meeting(offering, ilse, NOW - timedelta(days=30), status="CANCELLED")
    wanted: list[OfferingValues] = [{"minutes": 50}, {"kind": Kind.GROUP_MEETING}]
    for values in wanted:
        with pytest.raises(Refused) as refused:
            change_offering(actor=dag, offering=offering, values=values, now=NOW)
        assert code_of(refused) == "has-bookings"
    changed = change_offering(
        actor=dag, offering=offering, values={"minutes": 25, "changeover_minutes": 15}, now=NOW
    )
    assert changed.changeover_minutes == 15


def test_a_change_of_an_older_version_is_refused() -> None:
    """Of the offering itself or of who teaches it."""
    dag, ilse, offering = make_admin(), make_instructor(), make_offering()
    set_teaches(actor=dag, offering=offering, instructor=ilse, levels=(1, 5), version=1, now=NOW)
    with pytest.raises(Refused) as refused:
        change_offering(actor=dag, offering=offering, version=1, values={"name": "A"}, now=NOW)
    assert code_of(refused) == "stale"
    with pytest.raises(Refused) as refused:
        set_teaches(actor=dag, offering=offering, instructor=ilse, levels=None, version=1, now=NOW)
    assert code_of(refused) == "stale"
    assert Teaches.objects.get().highest_level == 5


def test_places_outside_the_new_levels_are_counted_and_kept() -> None:
    """Noor is at level 4 and Marlo at 7; only what is ahead counts."""
    make_policy()
    dag, ilse, offering = make_admin(), make_instructor(), make_offering()
    teaches(ilse, offering)
    for level, days in ((4, 3), (7, 4), (7, -4)):
        student = make_student(level=level)
        make_booking(make_meeting(offering, ilse, NOW + timedelta(days=days)), student)
    changed = set_teaches(actor=dag, offering=offering, instructor=ilse, levels=(1, 5), now=NOW)
    assert changed.left_outside == 1
    gone = set_teaches(actor=dag, offering=offering, instructor=ilse, levels=None, now=NOW)
    assert gone.left_outside == 2
    assert not Teaches.objects.exists()


def test_somebody_who_left_is_not_made_to_teach() -> None:
    """Their row may still be taken away."""
    dag, ilse, offering = make_admin(), make_instructor(), make_offering()
    teaches(ilse, offering)
    ilse.is_active = False
    ilse.save()
    with pytest.raises(Refused) as refused:
        set_teaches(actor=dag, offering=offering, instructor=ilse, levels=(2, 3), now=NOW)
    assert code_of(refused) == "already-ended"
    set_teaches(actor=dag, offering=offering, instructor=ilse, levels=None, now=NOW)
    assert not Teaches.objects.exists()


def test_policies_are_numbered_and_begin_at_once_or_later() -> None:
    """A version never changes; one that would begin in the past is refused."""
    dag = make_admin()
    first = new_policy(actor=dag, rules=Policy(), seen=0, now=NOW)
    later = NOW + timedelta(days=9)
    second = new_policy(
        actor=dag, rules=replace(Policy(), horizon_days=9), in_force_from=later, seen=1, now=NOW
    )
    assert (first.version, first.in_force_from) == (1, NOW)
    assert (second.version, second.in_force_from, second.horizon_days) == (2, later, 9)
    for seen, since, code in ((1, None, "stale"), (2, NOW - timedelta(seconds=1), "past")):
        with pytest.raises(Refused) as refused:
            new_policy(actor=dag, rules=Policy(), in_force_from=since, seen=seen, now=NOW)
        assert code_of(refused) == code


def counted(**rules: int) -> Effects:
    return effects_of(Policy(), replace(Policy(), **rules), since=NOW, now=NOW)


def test_what_new_rules_would_not_allow_is_counted_by_the_rule() -> None:
    """Two consultations of Noor, an hour apart, and one of Posy at 08:00 in Sydney; a rule that
    is not stricter counts nothing.
    """
    make_policy()
    ilse, offering = make_instructor(), make_offering()
    noor, posy = make_student(), make_minor()
    for starts_at, student in (
        ("2027-03-12T10:00Z", noor),
        ("2027-03-12T11:00Z", noor),
        ("2027-03-15T21:00Z", posy),
    ):
        make_booking(make_meeting(offering, ilse, at(starts_at)), student)
    assert counted(minor_opens=420, horizon_days=61, day_minutes=400) == Effects(0, 0, 0, 0)
    assert counted(minor_opens=485).minor_hours == 1
    assert counted(minor_closes=1255).minor_hours == 0
    assert counted(horizon_days=12).horizon == 1
    assert counted(open_consultations=1).consultations == 1
    assert counted(day_minutes=30).load == 1
    assert counted(day_minutes=25, run_minutes=25).load == 1
