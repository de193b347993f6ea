"""The forms of group meetings."""

from datetime import datetime, timedelta
from typing import Any

from django import forms

from bookings.domain.zones import place, zone
from bookings.models import Meeting
from bookings.operations.repeating import MOST_DATES, MOST_WEEKS
from bookings.pages.forms.fields import CHOOSE, ClockField, DayField, PlainText, wall_time
from bookings.pages.forms.minimums import MinimumFields
from bookings.pages.forms.picking import PersonField
from bookings.queries.offerings import group_offerings
from bookings.queries.picking import Whom


class ChangeForm(forms.Form):
    """What can change of a group meeting; the wall time is on the instructor's clock."""

    title = PlainText(max_length=120, label="Theme")
    on = DayField(label="On")
    at = ClockField(label="At", help_text="On the instructor’s clock.")
    places = forms.IntegerField(
        min_value=1, max_value=500, label="Places", help_text="Player places, in a masterclass."
    )
    listener_places = forms.IntegerField(
        min_value=0, max_value=1000, required=False, initial=0, label="Listener places"
    )
    lowest_level = forms.IntegerField(
        min_value=1,
        max_value=10,
        required=False,
        label="Lowest level of players",
        help_text="Leave both empty for the levels that the instructor teaches. Listeners may be "
        "at any level.",
    )
    highest_level = forms.IntegerField(
        min_value=1, max_value=10, required=False, label="Highest level of players"
    )
    players_are_chosen = forms.BooleanField(
        required=False,
        label="The school chooses the players",
        help_text="Families apply, and an admin chooses. Nobody is offered a player place.",
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


class MeetingForm(MinimumFields, ChangeForm):
    """A new group meeting."""

    offering = forms.ModelChoiceField(group_offerings(), label="What", empty_label=CHOOSE)
    instructor = PersonField(Whom.INSTRUCTOR, label="With")
    field_order = ["offering", "instructor", *ChangeForm.base_fields]


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
            "lowest_level": meeting.lowest_level,
            "highest_level": meeting.highest_level,
            "players_are_chosen": meeting.players_are_chosen,
            "join_address": meeting.join_address,
        },
    )
    form.fields["lowest_level"].help_text = "Listeners may be at any level."
    form.fields["at"].help_text = f"On the clock of {place(time_zone)}."
    return form


def new_wall(form: ChangeForm, meeting: Meeting, time_zone: str) -> datetime | None:
    """The wall time typed, where it is not the one at which the meeting stands."""
    local = meeting.starts_at.astimezone(zone(time_zone)).replace(tzinfo=None)
    return form.wall() if form.wall() != local else None


class RepeatForm(forms.Form):
    """The dates on which a meeting is made again, on the instructor's clock."""

    first_on = DayField(label="First date")
    at = ClockField(label="At")
    count = forms.IntegerField(
        min_value=1, max_value=MOST_DATES, label="How many dates", help_text="1 duplicates it once."
    )
    every_weeks = forms.IntegerField(min_value=1, max_value=MOST_WEEKS, label="Weeks apart")


def repeat_form(data: Any, meeting: Meeting, time_zone: str) -> RepeatForm:
    """The form, for one date a week later at the same wall time, or as it was typed."""
    local = meeting.starts_at.astimezone(zone(time_zone))
    form = RepeatForm(
        data or None,
        initial={
            "first_on": local.date() + timedelta(weeks=1),
            "at": f"{local:%H:%M}",
            "count": 1,
            "every_weeks": 1,
        },
    )
    form.fields["at"].help_text = f"On the clock of {place(time_zone)}, through every clock change."
    return form
