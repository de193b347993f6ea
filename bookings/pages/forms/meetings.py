"""The forms of group meetings."""

from datetime import datetime
from typing import Any

from django import forms

from bookings.domain.zones import place, zone
from bookings.models import Meeting
from bookings.pages.forms.fields import ClockField, DayField, PlainText, wall_time
from bookings.queries.offerings import group_offerings, teaching_now


class ChangeForm(forms.Form):
    """What can change of a group meeting; the wall time is on the instructor's clock."""

    title = PlainText(max_length=120, label="Theme")
    on = DayField(label="On")
    at = ClockField(label="At", help_text="On the instructor's clock.")
    places = forms.IntegerField(
        min_value=1, max_value=500, label="Places", help_text="Player places, in a masterclass."
    )
    listener_places = forms.IntegerField(
        min_value=0, max_value=1000, required=False, initial=0, label="Listener places"
    )
    join_address = forms.URLField(
        max_length=300,
        required=False,
        assume_scheme="https",
        label="Address to join at",
        help_text="Leave this empty to use the instructor’s room.",
    )

    def wall(self) -> datetime:
        """The wall time asked for, without an offset."""
        return wall_time(self.cleaned_data["on"], self.cleaned_data["at"])


class MeetingForm(ChangeForm):
    """A new group meeting."""

    offering = forms.ModelChoiceField(group_offerings(), label="What")
    instructor = forms.ModelChoiceField(teaching_now(), label="With")
    field_order = ["offering", "instructor"]


def change_form(data: Any, meeting: Meeting, time_zone: str) -> ChangeForm:
    """The form as the meeting stands on that clock, or as it was typed."""
    local = meeting.starts_at.astimezone(zone(time_zone))
    form = ChangeForm(
        data or None,
        initial={
            "title": meeting.title,
            "on": local.date(),
            "at": f"{local:%H:%M}",
            "places": meeting.places,
            "listener_places": meeting.listener_places,
            "join_address": meeting.join_address,
        },
    )
    form.fields["at"].help_text = f"On the clock of {place(time_zone)}."
    return form


def new_wall(form: ChangeForm, meeting: Meeting, time_zone: str) -> datetime | None:
    """The wall time typed, where it is not the one at which the meeting stands."""
    local = meeting.starts_at.astimezone(zone(time_zone)).replace(tzinfo=None)
    return form.wall() if form.wall() != local else None
