"""What every kind of plan has to do."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol, TypeVar

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.planning.model import Watch
from bookings.domain.plans import Solved
from bookings.models import Plan

Named = TypeVar("Named")


class Check(Protocol):
    def __call__(self, asked: dict[str, Any], *, now: datetime) -> None: ...


class Read(Protocol):
    def __call__(self, plan: Plan, *, now: datetime) -> tuple[Any, dict[str, Any]]: ...


class Adopt(Protocol):
    def __call__(self, plan: Plan, *, actor: User, now: datetime) -> None: ...


class Discard(Protocol):
    def __call__(self, plan: Plan, *, now: datetime) -> None: ...


def _tell_nobody(plan: Plan, *, now: datetime) -> None:
    """Nobody knows of a plan that nobody was asked about."""


@dataclass(frozen=True, slots=True)
class PlanWork:
    """`check` refuses what can never be solved. `read` reads the problem, and the versions of what
    it read. `solve` is pure and takes as many seconds as it is given. `adopt` does all that the
    answer says, or is refused. `discard` tells those who were asked about the plan.
    """

    check: Check
    read: Read
    solve: Callable[[Any, float, Watch], Solved]
    adopt: Adopt
    discard: Discard = _tell_nobody


def by_request(
    read: Callable[..., tuple[Any, dict[str, Any]]],
) -> Callable[..., tuple[Any, dict[str, Any]]]:
    """A plan's problem where nothing but its request says what to read."""
    return lambda plan, *, now: read(plan.asked, now=now)


def still_named(read: Callable[[], Named]) -> Named:
    """What the plan names, as it stands now. Refused("plan-outdated") where any of it is gone."""
    try:
        return read()
    except Refused as refusal:
        raise Refused(
            "plan-outdated",
            "Something that the plan names is not here any more. Ask for a new plan. "
            + refusal.detail,
            conflicts=[],
        ) from None


def refuse_conflicts(conflicts: Sequence[Mapping[str, Any]]) -> None:
    """Refused("plan-outdated") with the starts that cannot be had any more, if there are any.

    A conflict has a `code`, a `detail` that names who is meant, and a `starts_at` where one start
    is. Whatever else it holds is not told.
    """
    if not conflicts:
        return
    told = [{name: one[name] for name in _TOLD if name in one} for one in conflicts]
    raise Refused(
        "plan-outdated",
        "Nothing was changed, because the school has changed since this was planned: "
        + " ".join(one["detail"] for one in told[:10]),
        conflicts=told,
    )


_TOLD = ("meeting", "starts_at", "code", "detail")
