"""One kind of data that the school lets go of after some time."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db.models import QuerySet


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Rows of one table that go whole or, where `empties` names columns, stay without these.

    `rows` gives the rows whose time began at an instant or before. `began` is the lookup of that
    time, empty where no column of the table says it. `setting` names how many days they are kept;
    without one it is `days`, which no school may choose.
    """

    code: str
    model: str
    title: str
    """What it is, in words: a line of the page."""
    since: str
    """From when the days count, in words: "the lesson"."""
    rows: Callable[[datetime], QuerySet[Any]]
    began: str = ""
    setting: str = ""
    days: int = 0
    empties: tuple[str, ...] = ()
    by_machine: bool = False
    """Whether a library has stamped the time, with the machine's clock."""
    named_by: str = ""
    """The lookup of a nullable key in bookings that names these rows, and is emptied first."""

    @property
    def kept_days(self) -> int:
        """How many days it is kept."""
        return settings.RETENTION_DAYS[self.setting] if self.setting else self.days

    @property
    def kept_words(self) -> str:
        """ "90 days after the lesson", "2 years after the lesson" or "until the lesson"."""
        days = self.kept_days
        if days == 0:
            return f"until {self.since}"
        number, unit = (days // 365, "year") if days % 365 == 0 else (days, "day")
        return f"{number} {unit}{'' if number == 1 else 's'} after {self.since}"

    def until(self, *, now: datetime, machine: datetime) -> datetime:
        """What began at this instant or before goes."""
        return (machine if self.by_machine else now) - timedelta(days=self.kept_days)
