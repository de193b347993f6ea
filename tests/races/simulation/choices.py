"""Who does what in a step: each method picks its people and places by the step's own numbers and
does one act.
"""

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from bookings.models import Feed
from tests.races.desk.rows import LISTENER, PLAYER
from tests.races.simulation.acts import Acts
from tests.races.simulation.school import School
from tests.races.simulation.setting import GROUPS

ZONES = [
    "Europe/Dublin",
    "America/New_York",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "America/Los_Angeles",
]


class Choices:
    """Steps by name; most choose what is likely to succeed, some do not."""

    chance: random.Random
    school: School
    acts: Acts

    def _student(self) -> int:
        return self.chance.randrange(len(self.school.students))

    def _teacher(self) -> int:
        return self.chance.randrange(len(self.school.teachers))

    def _group(self) -> int | None:
        """Mostly one that stands and lies ahead."""
        groups = [m for m in self.acts.desk.meetings if m.offering in GROUPS]
        open_ones = [m for m in groups if not m.off and m.starts_at > self.acts.now]
        chosen = open_ones if open_ones and self.chance.random() < 0.95 else groups
        return self.chance.choice(chosen).id if chosen else None

    def _booking(self, *, one_on_one: bool) -> int | None:
        """Mostly one that is live."""
        desk = self.acts.desk
        rows = [
            b
            for b in desk.bookings
            if (desk.meetings[b.meeting].offering not in GROUPS) == one_on_one
            and not desk.meetings[b.meeting].proposed
        ]
        live = [b for b in rows if not b.why and b.starts_at > self.acts.now]
        waited_for = [b for b in live if desk.rows.line(b.meeting, b.kind)]
        chosen = live if live and self.chance.random() < 0.93 else rows
        chosen = waited_for if waited_for and self.chance.random() < 0.6 else chosen
        return self.chance.choice(chosen).id if chosen else None

    def _kind(self) -> str:
        return self.chance.choices([PLAYER, LISTENER], [3, 1])[0]

    def _start(self, zone: str, *, days: int) -> datetime:
        """A half hour between nine and half past eight on that clock, at times off the grid or
        early.
        """
        on = (self.acts.now + timedelta(days=self.chance.randint(0, days))).astimezone(
            ZoneInfo(zone)
        )
        minute = self.chance.choice([0, 30, 0, 30, 0, 30, 15])
        return on.replace(
            hour=self.chance.choice([7, *range(9, 21)]), minute=minute, second=0, microsecond=0
        ).astimezone(UTC)

    def _in_group(self, act: Callable[[int, int, str], str]) -> None:
        group = self._group()
        if group is not None:
            act(self._student(), group, self._kind())

    def _book_place(self) -> None:
        self._in_group(self.acts.book_place)

    def _join_line(self) -> None:
        """Mostly where no place is left, and often by somebody who listens meanwhile."""
        desk, kind = self.acts.desk, self._kind()
        open_ones = [
            m
            for m in desk.meetings
            if m.offering in GROUPS and not m.off and m.starts_at > self.acts.now and m.seats(kind)
        ]
        full = [m.id for m in open_ones if desk.rows.full(m, kind)]
        if full and self.chance.random() < 0.9:
            number = self.chance.choice(full)
            listeners = (
                [b.student for b in desk.rows.roster(number, LISTENER)] if kind == PLAYER else []
            )
            student = (
                self.chance.choice(listeners)
                if listeners and self.chance.random() < 0.5
                else self._student()
            )
            self.acts.join_line(student, number, kind)
        else:
            self._in_group(self.acts.join_line)

    def _leave_line(self) -> None:
        waits = [w for w in self.acts.desk.waits if not w.why]
        if waits:
            wait = self.chance.choice(waits)
            self.acts.leave_line(wait.student, wait.meeting, wait.kind)
        else:
            self._in_group(self.acts.leave_line)

    def _leave_place(self) -> None:
        booking = self._booking(one_on_one=False)
        if booking is not None:
            self.acts.leave_place(booking)

    def _office(self) -> None:
        """An admin adds somebody to a roster or removes them, with a reason."""
        booking = self._booking(one_on_one=False)
        if booking is not None and self.chance.random() < 0.6:
            self.acts.leave_place(booking, by_office=True)
        else:
            ahead = self.chance.random() < 0.3
            self._in_group(
                lambda student, group, kind: self.acts.book_place(
                    student, group, kind, by_office=True, ahead=ahead
                )
            )

    def _change_place(self) -> None:
        booking, group = self._booking(one_on_one=False), self._group()
        if booking is not None and group is not None:
            self.acts.change_place(booking, group)

    def _answer(self) -> None:
        """An offer is answered, in time or not; at times one that has ended."""
        desk = self.acts.desk
        agreed = [b for b in desk.bookings if not desk.meetings[b.meeting].proposed]
        offers = [b for b in agreed if b.standing == "OFFERED"]
        if agreed and self.chance.random() < 0.08:
            offers = agreed[-3:]
        if offers:
            act = self.acts.accept if self.chance.random() < 0.6 else self.acts.decline
            act(self.chance.choice(offers).id)

    def _book_slot(self) -> None:
        """At times at the very hour of something else that they hold or are offered."""
        student, teacher, desk = self._student(), self._teacher(), self.acts.desk
        offering, starts = (
            self.chance.choice(["consultation", "lesson"]),
            self._start(desk.teachers[teacher].zone, days=9),
        )
        theirs = [b for b in desk.bookings if not b.why and b.starts_at > self.acts.now]
        if theirs and self.chance.random() < 0.35:
            other = self.chance.choice(theirs)
            student, starts = other.student, other.starts_at
        self.acts.book_slot(student, teacher, offering, starts)

    def _move_slot(self) -> None:
        booking, teacher = self._booking(one_on_one=True), self._teacher()
        if booking is not None:
            self.acts.move_slot(
                booking, teacher, self._start(self.acts.desk.teachers[teacher].zone, days=9)
            )

    def _cancel_slot(self) -> None:
        booking = self._booking(one_on_one=True)
        if booking is not None:
            self.acts.cancel_slot(booking)

    def _take_weekly(self) -> None:
        self.acts.take_weekly(
            self._student(),
            self._teacher(),
            self.chance.randrange(7),
            30 * self.chance.randint(18, 40),
        )

    def _leave_weekly(self) -> None:
        if self.acts.desk.weekly:
            self.acts.leave_weekly(self.chance.randrange(len(self.acts.desk.weekly)))

    def _make_meeting(self) -> None:
        teacher = self._teacher()
        places, listeners = self.chance.choice([1, 1, 2, 3]), self.chance.choice([0, 1, 1, 2])
        starts = self._start(self.acts.desk.teachers[teacher].zone, days=self.chance.choice([2, 6]))
        self.acts.make_meeting(self.chance.choice(GROUPS), teacher, starts, places, listeners)

    def _change_places(self) -> None:
        group = self._group()
        if group is not None:
            listeners = self.chance.choice([None, self.chance.randint(0, 2)])
            self.acts.change_meeting(group, places=self.chance.randint(1, 4), listeners=listeners)

    def _shift_meeting(self) -> None:
        group = self._group()
        if group is not None:
            starts = self._start(
                self.acts.desk.teachers[self.acts.desk.meetings[group].instructor].zone, days=5
            )
            self.acts.change_meeting(
                group, starts=starts, title=self.chance.choice([None, "Pedals", "Ornaments"])
            )

    def _call_off(self) -> None:
        meetings = [m.id for m in self.acts.desk.meetings if not (m.off or m.proposed)]
        if meetings:
            self.acts.call_off(self.chance.choice(meetings))

    def _reinstate(self) -> None:
        """Mostly what lies ahead."""
        off = [m for m in self.acts.desk.meetings if m.called_off is not None]
        ahead = [m for m in off if m.off and m.starts_at > self.acts.now]
        chosen = ahead if ahead and self.chance.random() < 0.9 else off
        if chosen:
            self.acts.reinstate(self.chance.choice(chosen).id)

    def _assess(self) -> None:
        self.acts.assess(self._student(), self._teacher())

    def _away(self) -> None:
        teacher = self._teacher()
        if self.chance.random() < 0.4:
            self.acts.come_back(teacher)
            return
        first = (self.acts.now + timedelta(days=self.chance.randint(1, 8))).date()
        self.acts.go_away(teacher, first, first + timedelta(days=self.chance.randint(0, 2)))

    def _zone(self) -> None:
        self.acts.change_zone(self._student(), self.chance.choice(ZONES))

    def _feed(self) -> None:
        open_ones = list(
            Feed.objects.filter(revoked_at__isnull=True).select_related("owner").order_by("pk")
        )
        what = self.chance.choices(["open", "renew", "revoke"], [5, 2, 1])[0]
        if what == "open" or not open_ones:
            self.acts.open_feed(
                self.chance.choice(
                    [*self.school.families, *(teacher.user for teacher in self.school.teachers)]
                )
            )
        else:
            self.acts.change_feed(self.chance.choice(open_ones), renew=what == "renew")
