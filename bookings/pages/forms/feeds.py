"""The form of a new calendar address."""

from django import forms

from bookings.domain.vocabulary import FeedKind
from bookings.pages.forms.fields import PlainText


class FeedForm(forms.Form):
    """A new feed. `meeting` comes from the button of a roster; one `uid` makes one feed."""

    label = PlainText(label="A name, such as Phone", max_length=60)
    shows = forms.ChoiceField(
        label="It shows",
        choices=[
            (FeedKind.MEETINGS.value, "my meetings"),
            (FeedKind.FREE_BUSY.value, "only when I am busy"),
        ],
        required=False,
    )
    names_children = forms.BooleanField(label="Show my children’s first names", required=False)
    meeting = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1)
    uid = forms.UUIDField(required=False, widget=forms.HiddenInput)
