"""The order of players: what an admin says of every player, and a family of its own."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import partial
from typing import Any

from django import forms

from bookings.domain.planning.agenda import MOST_MINUTES, instant_to_leave
from bookings.domain.zones import place, zone
from bookings.models import Booking, Meeting
from bookings.operations.agendas import PlayerSaid
from bookings.pages.forms.fields import ClockField, judge
from bookings.queries.agendas import minutes_of


class LeavesByForm(forms.Form):
    """By when one player must leave, on the student's clock."""

    leaves_by = ClockField(required=False, label="The turn has to be over by")

    def __init__(self, data: Any, *, booking: Booking) -> None:
        super().__init__(data, initial={"leaves_by": _clock(booking, booking.student.zone)})
        self._booking = booking
        self.fields[
            "leaves_by"
        ].help_text = (
            f"On the clock of {place(booking.student.zone)}. Leave it empty to stay to the end."
        )

    def clean(self) -> None:
        judge(self, "leaves_by", self.instant)

    def instant(self) -> datetime | None:
        """The instant that was typed; None for an empty field."""
        minute = self.cleaned_data["leaves_by"]
        booking = self._booking
        if minute is None:
            return None
        return instant_to_leave(minute, booking.starts_at, booking.ends_at, booking.student.zone)


class AgendaForm(forms.Form):
    """Minutes and time to leave of each player, on the meeting's clock."""

    def __init__(self, data: Any, *, meeting: Meeting, players: Sequence[Booking]) -> None:
        super().__init__(data)
        self._meeting, self._players = meeting, players
        for booking in players:
            name = booking.student.full_name
            self.fields[f"minutes_{booking.pk}"] = forms.IntegerField(
                min_value=1,
                max_value=MOST_MINUTES,
                initial=minutes_of(booking),
                label=f"Minutes of {name}",
            )
            self.fields[f"leaves_{booking.pk}"] = ClockField(
                required=False,
                initial=_clock(booking, meeting.zone),
                label=f"{name} must leave by",
            )

    def rows(self) -> Iterator[tuple[Booking, forms.BoundField, forms.BoundField]]:
        """Each player with their two fields."""
        for booking in self._players:
            yield booking, self[f"minutes_{booking.pk}"], self[f"leaves_{booking.pk}"]

    def clean(self) -> None:
        for booking in self._players:
            name = f"leaves_{booking.pk}"
            judge(self, name, partial(self._instant, name))

    def said(self) -> dict[int, PlayerSaid]:
        """What a valid form says, by booking."""
        return {
            booking.pk: PlayerSaid(
                self.cleaned_data[f"minutes_{booking.pk}"], self._instant(f"leaves_{booking.pk}")
            )
            for booking in self._players
        }

    def _instant(self, name: str) -> datetime | None:
        minute, meeting = self.cleaned_data[name], self._meeting
        if minute is None:
            return None
        return instant_to_leave(minute, meeting.starts_at, meeting.ends_at, meeting.zone)


def _clock(booking: Booking, time_zone: str) -> str:
    if booking.leaves_by is None:
        return ""
    return f"{booking.leaves_by.astimezone(zone(time_zone)):%H:%M}"
