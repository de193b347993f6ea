"""One act done twice: by the model, and by the product through its write door.

The two must agree.
"""

from collections import Counter
from collections.abc import Callable
from datetime import datetime
from typing import Any

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind
from bookings.door import write
from bookings.models import Booking, Meeting
from tests import cast
from tests.races.desk.setting import Act
from tests.races.simulation.desk import KeptDesk, No
from tests.races.simulation.reading import digest, read
from tests.races.simulation.school import School


class Both:
    """One run: the model's desk beside the database, and one clock for both."""

    def __init__(self, school: School, now: datetime = cast.NOW) -> None:
        self.school, self.now, self.desk = school, now, KeptDesk(*school.parties())
        self.secrets: dict[int, str] = {}
        self.digest = digest()
        self.answers: Counter[str] = Counter()
        self.bars: dict[tuple[int, int], tuple[int, datetime]] = {}
        """The last row of the outbox, and the instant, at which a student's guardian was barred."""

    def agree(self) -> None:
        """The database reads as the model does."""
        self.digest = digest()
        read(self.school, self.desk)

    def _queued(
        self,
        act: Act,
        verb: Callable[..., Any],
        student: int,
        meeting: int,
        kind: str,
    ) -> str:
        actor, who, where = (
            self._family(student),
            self.school.students[student],
            self._meeting(meeting),
        )
        return self._act(
            act,
            lambda: verb(
                actor=actor, student=who, meeting=where, place_kind=PlaceKind(kind), now=self.now
            ),
        )

    def _act(self, act: Act, real: Callable[[], object]) -> str:
        return self._both(lambda: self.desk.does(act, self.now), real)

    def _both(self, model: Callable[[], object] | None, real: Callable[[], object]) -> str:
        """The refusal's code, "" where it was done.

        A model of None has no opinion; a refusal changes no table.
        """
        wanted = None if model is None else ""
        try:
            (model or str)()
        except No as no:
            wanted = no.code
        before, code = self.digest, ""
        try:
            write(real, now=self.now)
        except Refused as refused:
            code = refused.code
        self.digest = digest()
        assert wanted in (None, code), (
            f"the model says {wanted or 'yes'!r}, the product {code or 'yes'!r}"
        )
        if code:
            skipped = (
                {"outbox"} if code == "consent-missing" else set()
            )  # it sets off a request for the consent
            changed = {name for name in before if before[name] != self.digest[name]} - skipped
            assert not changed, f"refused with {code!r}, and yet changed: {changed}"
        else:
            changed = {name for name in before if before[name] != self.digest[name]}
            # What was asked for may be so already: then nothing is written at all.
            audited = self.digest["audit"] > before["audit"]
            assert audited or not changed, "a write left no audit row"
        if model is not None:
            read(self.school, self.desk)
        self.answers[code or "done"] += 1
        return code

    def _theirs(self, booking: int) -> tuple[User, Booking]:
        rows = Booking.objects.select_related(
            "student__user", "policy", "meeting__offering", "meeting__instructor__user"
        )
        return self._family(self.desk.bookings[booking].student), rows.order_by("pk")[booking]

    def _family(self, student: int) -> User:
        """Who acts for a student: themselves, or the first guardian who is not barred."""
        barred = self.desk.students[student].barred
        guardians = enumerate(self.school.guardians[student])
        return next(user for i, user in guardians if i not in barred)

    def _meeting(self, meeting: int) -> Meeting:
        return Meeting.objects.select_related("offering", "instructor__user").order_by("pk")[
            meeting
        ]
