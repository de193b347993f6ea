"""A script of steps from one seed, and the play of it: who does what, when the clock jumps, what
becomes of the tasks.

A step is a name and a few large numbers; what they pick is decided when the step is played, so a
script can be cut anywhere.
"""

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from unittest import mock

from django.test import override_settings

from bookings import clock, outbox, tasks
from bookings.models import Feed, Meeting, OutboxMessage
from bookings.queries import calendars
from tests import cast
from tests.races.simulation import account_invariants, family_invariants, invariants
from tests.races.simulation.acts import Acts
from tests.races.simulation.books_choices import BooksChoices
from tests.races.simulation.post import BACKEND, FAULTS, Killed, Post
from tests.races.simulation.school import School
from tests.races.simulation.setting import LEAD, NEAR, NOTICE

WEIGHTS = {
    "wait": 13, "work": 20, "book_place": 12, "join_line": 18, "leave_place": 11, "answer": 12,
    "book_slot": 6, "change_places": 4, "make_meeting": 2, "move_slot": 4, "cancel_slot": 3,
    "change_place": 4, "leave_line": 3, "office": 3, "shift_meeting": 3, "assess": 1, "away": 2,
    "zone": 2, "consent": 3, "feed": 2, "call_off": 2, "reinstate": 2, "take_weekly": 1,
    "leave_weekly": 1, "propose": 5, "answer_times": 6, "by_school": 3, "want_held_time": 2,
    "bar": 1, "mark": 5, "make_up": 5, "issue": 2, "correct": 4, "book_pair": 3, "move_pair": 4,
}  # fmt: skip
FIRST = ("take_weekly", *["make_meeting"] * 2, *["book_place"] * 4, *["join_line"] * 3)
MEANWHILE = (
    "leave_place", "move_slot", "cancel_slot", "call_off", "reinstate", "book_place",
    "answer_times",
)  # fmt: skip
STARTS = (
    0,
    11,
    12,
    25,
    26,
)  # days after 1 March 2027: on the 14th America's clocks change, on the 28th Europe's
LONGEST_DRAIN = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a script; `salt` decides the rest of it."""

    name: str
    salt: int


def script(seed: int, steps: int) -> list[Step]:
    """The steps of a seed: a school with something in it, then whatever comes."""
    chance = random.Random(seed)
    names = [*FIRST, *chance.choices(list(WEIGHTS), list(WEIGHTS.values()), k=steps - len(FIRST))]
    return [Step(name, chance.getrandbits(32)) for name in names]


@dataclass
class Play(BooksChoices):
    """One run of a script in one rolled-back transaction."""

    school: School
    seed: int
    tasks: list[str] = field(default_factory=list)
    feeds: dict[int, tuple[str, bytes]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    played: int = 0
    depth: int = 0

    def run(self, steps: Sequence[Step]) -> None:
        """Raises AssertionError at the first step after which something does not hold; `played`
        tells which.
        """
        start = cast.NOW + timedelta(days=STARTS[self.seed % len(STARTS)])
        self.acts, self.post = Acts(self.school, start), Post()
        self.post.meanwhile = self._meanwhile
        outbox.register_notifier(lambda: self.tasks.append("drain"))
        try:
            with (
                self.school.one_run(),
                override_settings(EMAIL_BACKEND=BACKEND),
                mock.patch.object(clock, "now", self._now),
            ):
                for self.played, step in enumerate(steps, 1):
                    self._step(step)
                    if self.played % 10 == 0:
                        self._check(drained=False)
                self._drain_all()
                self._check(drained=True)
        finally:
            outbox.register_notifier(None)

    def seen(self) -> Counter[str]:
        """What happened, so that a run which met nothing shows: answers, ends, mails and faults."""
        desk = self.acts.desk
        ends = [row.why for row in [*desk.bookings, *desk.waits, *desk.proposals] if row.why]
        return Counter(
            [
                *self.acts.answers.elements(),
                *ends,
                *("mail" for _ in self.post.arrived),
                *filter(None, self.faults),
            ]
        )

    def _now(self) -> datetime:
        return self.acts.now

    def _step(self, step: Step) -> None:
        self.chance = random.Random(step.salt)
        getattr(self, f"_{step.name}")()

    def _check(self, *, drained: bool) -> None:
        invariants.check_rows()
        invariants.check_notes(self.acts)
        invariants.check_proposal_emails()
        family_invariants.check_barred(self.acts)
        account_invariants.check_accounts(self.acts)
        invariants.check_post(self.post, drained=drained, acts=self.acts)
        self._read_feeds()

    # ---- the clock and the tasks
    def _wait(self) -> None:
        """Minutes to days, or just to where something changes; meanwhile beat has asked for both
        tasks, once however long it was.
        """
        edges = self._edges() if self.chance.random() < 0.5 else []
        if edges:
            self.acts.now = self.chance.choice(edges) + timedelta(
                seconds=self.chance.choice([-1, 0, 1])
            )
        else:
            span = self.chance.choices([(1, 50), (60, 720), (1000, 5000)], [5, 5, 1])[0]
            self.acts.now += timedelta(
                minutes=self.chance.randint(*span), seconds=self.chance.randint(0, 59)
            )
        self.tasks += ["due", "drain"]

    def _edges(self) -> list[datetime]:
        """Instants of the next two days on which an answer, a notice, a lead time, a start or the
        last hours before it turn.
        """
        now, desk = self.acts.now, self.acts.desk
        before = (timedelta(), NEAR, timedelta(hours=self.chance.randint(5, 11)), LEAD, NOTICE)
        edges = {m.starts_at - b for m in desk.meetings if not m.off for b in before}
        edges |= {
            b.answer_by
            for b in desk.bookings
            if b.standing == "OFFERED" and b.answer_by is not None
        }
        edges |= {b.decline_by for b in desk.bookings if b.decline_by is not None and b.live}
        return sorted(
            at for at in edges if now + timedelta(seconds=1) < at < now + timedelta(days=2)
        )

    def _work(self) -> None:
        """Any task asked for, not the oldest first; it may be lost, and it may come twice."""
        if not self.tasks:
            return
        task = self.tasks.pop(self.chance.randrange(len(self.tasks)))
        times = self.chance.choices([0, 1, 2], [2, 14, 2])[0]
        for _ in range(times):
            self._drain() if task == "drain" else self._due()

    def _due(self) -> None:
        self.acts.fall_due()
        invariants.check_line(self.acts)

    def _drain(self) -> None:
        chance = random.Random(self.chance.getrandbits(32))

        def fault() -> str:
            self.faults.append(chance.choice(FAULTS) if chance.random() < 0.12 else "")
            return self.faults[-1]

        self.post.fault = fault
        try:
            tasks.drain_outbox()
        except Killed:
            pass
        finally:
            self.post.fault = str
        self.acts.agree()

    def _meanwhile(self) -> None:
        """While a worker waits for a slow server: time passes, perhaps more than its lease; another
        worker drains, somebody acts.
        """
        if self.depth:
            return
        self.depth += 1
        fault, chance = self.post.fault, self.chance
        try:
            self.acts.now += timedelta(seconds=self.chance.choice([5, 60, 110, 130, 400]))
            self._step(Step(self.chance.choice(MEANWHILE), chance.getrandbits(32)))
            self.chance = chance
            if self.chance.random() < 0.7:
                self._drain()
        finally:
            self.depth -= 1
            self.post.fault, self.chance = fault, chance

    def _drain_all(self) -> None:
        """The mail server is well again: hour by hour until nothing waits that is due."""
        until = self.acts.now + LONGEST_DRAIN
        self.post.fault = str
        while self.acts.now < until:
            tasks.drain_outbox()
            if (
                not OutboxMessage.objects.filter(state="due", attempts__gt=0).exists()
                and not self._leased()
            ):
                break
            self.acts.now += timedelta(minutes=61)
        due = OutboxMessage.objects.filter(state="due", due_at__lte=self.acts.now)
        assert not due.exists(), f"never sent: {list(due)}"

    def _leased(self) -> bool:
        return OutboxMessage.objects.filter(leased_until__gt=self.acts.now).exists()

    def _read_feeds(self) -> None:
        """The same state gives the same bytes, and other bytes come with another state."""
        for feed in Feed.objects.filter(revoked_at__isnull=True).select_related("owner"):
            state, shown = (
                calendars.state_of(feed, now=self.acts.now),
                calendars.feed_bytes(feed, now=self.acts.now),
            )
            before = self.feeds.get(feed.pk)
            assert before is None or before[0] != state or before[1] == shown, (
                f"{feed} changed without another ETag"
            )
            self.feeds[feed.pk] = (state, shown)
            proposed = Meeting.objects.filter(is_proposed=True).values_list("uid", flat=True)
            assert not any(str(uid).encode() in shown for uid in proposed), (
                f"{feed} shows a time that nobody has agreed to"
            )
            assert calendars.open_feed_of(self.acts.secrets[feed.pk]) == feed, (
                f"{feed} is not at its address"
            )
