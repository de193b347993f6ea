"""What admins type about the school's other programs."""

from django import forms
from django.forms.boundfield import BoundWidget

from bookings.domain.events import GROUPS, WORDS
from bookings.domain.scopes import LONGEST_NAME, SCOPE_WORDS, Scope
from bookings.inbound.addresses import LONGEST
from bookings.operations.webhooks import checked_address
from bookings.pages.forms.fields import PlainText, judge

_MISSING = {"required": "Tick at least one."}


class ServiceTokenForm(forms.Form):
    """A token for a program."""

    name = PlainText(label="The program’s name", max_length=LONGEST_NAME)
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=[(scope.value, SCOPE_WORDS[scope]) for scope in Scope],
        widget=forms.CheckboxSelectMultiple,
        error_messages=_MISSING,
    )
    days = forms.TypedChoiceField(
        label="For how long",
        choices=[("30", "30 days"), ("90", "90 days"), ("365", "one year")],
        coerce=int,
        help_text="When it ends, make another one. You can revoke a token at any time.",
    )


class WebhookForm(forms.Form):
    """An address that is told what happens."""

    name = PlainText(label="The program’s name", max_length=LONGEST_NAME)
    address = PlainText(
        label="Its address",
        max_length=LONGEST,
        help_text="It begins with https:// and is on the public internet.",
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
    )
    kinds = forms.MultipleChoiceField(
        label="Tell it when",
        choices=[(event.value, said) for event, said in WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
        error_messages=_MISSING,
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def groups(self) -> list[tuple[str, list[BoundWidget]]]:
        """The boxes of `kinds` under what the events are about."""
        boxes = {box.data["value"]: box for box in self["kinds"]}
        return [(about, [boxes[event] for event in events]) for about, events in GROUPS.items()]

    def clean(self) -> None:
        judge(self, "address", lambda: checked_address(self.cleaned_data["address"]))
