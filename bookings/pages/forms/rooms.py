"""The form of an instructor's room."""

from django import forms


class RoomForm(forms.Form):
    """The address, and the one that the page showed."""

    room = forms.URLField(
        max_length=300,
        assume_scheme="https",
        label="Address to join at",
        widget=forms.URLInput(attrs={"size": 44}),
    )
    seen = forms.CharField(max_length=300, required=False, widget=forms.HiddenInput)
