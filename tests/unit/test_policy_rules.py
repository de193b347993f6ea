"""The rules of a studio policy, one by one."""

from dataclasses import fields, replace

import pytest

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.policy_rules import RULES, changes_in_words, check_policy, policy_in_full


def test_every_rule_of_a_policy_has_its_sentence() -> None:
    """A new field without one fails here; each sentence has one gap."""
    assert [rule.name for rule in RULES] and {rule.name for rule in RULES} == {
        field.name for field in fields(Policy)
    }
    assert all(rule.sentence.count("{}") == 1 for rule in RULES)
    assert "A student under 18 has no lesson before 08:00 on their own clock." in policy_in_full(
        Policy()
    )


def test_the_usual_rules_are_allowed() -> None:
    """A school that changes nothing can begin."""
    check_policy(Policy())


def test_a_change_is_told_with_what_it_has_been() -> None:
    """And nothing else is."""
    new = replace(Policy(), horizon_days=1, night_rest_minutes=690)
    assert list(changes_in_words(Policy(), new)) == [
        "Families book at most 1 day ahead. Until now: 60 days.",
        "An instructor has at least 690 minutes of rest between two days. Until now: 11 hours.",
    ]


@pytest.mark.parametrize("name", [rule.name for rule in RULES])
def test_a_rule_beyond_its_limits_is_refused_at_its_field(name: str) -> None:
    """One below the least and one step above the most."""
    rule = next(rule for rule in RULES if rule.name == name)
    for value in (rule.least - 1, rule.most + rule.step):
        with pytest.raises(Refused) as refused:
            check_policy(replace(Policy(), **{name: value}))
        assert (refused.value.code, refused.value.data["field"]) == ("invalid", name)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"minor_opens": 1260}, "minor_closes"),
        ({"minor_opens": 481}, "minor_opens"),
        ({"changeover_long_minutes": 12}, "changeover_long_minutes"),
        ({"lead_time_minutes": 1440, "horizon_days": 1}, "lead_time_minutes"),
    ],
)
def test_rules_that_leave_nothing_to_book_are_refused(changes: dict[str, int], field: str) -> None:
    """No hours for minors, off the five minutes, a lead time as long as the horizon."""
    with pytest.raises(Refused) as refused:
        check_policy(replace(Policy(), **changes))
    assert refused.value.data["field"] == field
