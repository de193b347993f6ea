"""The forms of group meetings."""

from datetime import datetime

from django import forms

from accounts.models import Instructor
from bookings.domain.vocabulary import Kind
from bookings.models import Offering
from bookings.pages.fields import ClockField, DayField, PlainText, wall_time


class MeetingForm(forms.Form):
    """A new group meeting; the wall time is on the instructor's clock."""

    offering = forms.ModelChoiceField(
        Offering.objects.filter(
            is_open=True, kind__in=[Kind.GROUP_MEETING.value, Kind.MASTERCLASS.value]
        ),
        label="What",
    )
    instructor = forms.ModelChoiceField(
        Instructor.objects.filter(is_active=True).select_related("user"), label="With"
    )
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
        help_text="Empty: the instructor's room.",
    )

    def wall(self) -> datetime:
        """The wall time asked for, without an offset."""
        return wall_time(self.cleaned_data["on"], self.cleaned_data["at"])
