"""Webhooks as they are sent and shown, and what a webhook itself is sent."""

from drf_spectacular.utils import OpenApiWebhook
from rest_framework import serializers

from bookings.api.fields import Line, Strict
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.domain.events import GROUPS, TEST, Event
from bookings.inbound.addresses import LONGEST
from bookings.models import Webhook
from bookings.operations.webhooks import LONGEST_NAME

EVENTS = [event.value for event in Event]


class Kinds(serializers.ListField):
    """Events by name."""

    child = serializers.ChoiceField(choices=EVENTS)


class WebhookForm(Strict):
    """`address` is told of these `kinds` of events: https on port 443, on a public host."""

    name = Line(max_length=LONGEST_NAME)
    address = Line(max_length=LONGEST)
    kinds = Kinds(min_length=1, max_length=len(EVENTS))


class WebhookChange(Strict):
    """What is left out stays. Deliveries that wait go to the new address."""

    name = Line(max_length=LONGEST_NAME, required=False)
    address = Line(max_length=LONGEST, required=False)
    kinds = Kinds(min_length=1, max_length=len(EVENTS), required=False)


class WebhookOutput(Output):
    """A webhook.

    While it is paused nothing is sent to it: by an admin (`by-hand`), because it answered 410
    (`gone`), or because nothing reached it for a day (`given-up`). Until `old_secret_until`
    deliveries are signed with the secret before the newest as well.
    """

    id = serializers.IntegerField()
    name = serializers.CharField()
    address = serializers.URLField()
    kinds = Kinds()
    made_at = Utc()
    paused_at = Utc(allow_null=True)
    paused_reason = serializers.ChoiceField(
        choices=["", *Webhook.Paused.values], source="paused_why"
    )
    old_secret_until = Utc(allow_null=True, source="old_until")


class WebhookWithSecret(WebhookOutput):
    """The same with its signing secret, shown this once."""

    secret = serializers.CharField()

    def get_secret(self, hook: Webhook) -> str:
        return str(self.context["secret"])


class AttemptOutput(Output):
    """One attempt to deliver an event. `answer_status` is null where no answer came.

    `problem` is empty for a success: `not-public`, `unknown-host`, `unreachable`, `certificate`,
    `slow`, `no-answer`, or `status` for an answer that is not 2xx.
    """

    event = serializers.CharField(source="event_id")
    kind = serializers.CharField()
    number = serializers.IntegerField()
    at = Utc()
    answer_status = serializers.IntegerField(allow_null=True, source="status")
    problem = serializers.CharField()
    milliseconds = serializers.IntegerField()


_MEANINGS = "\n\n".join(
    f"{about}:\n\n" + "\n".join(f"- `{event.value}`: {said}." for event, said in events.items())
    for about, events in GROUPS.items()
)
_DESCRIPTION = f"""Sent to each webhook that wants the event, signed as Standard Webhooks 1.0.0
says: `webhook-id`, `webhook-timestamp` and `webhook-signature`. `data.id` is the id of what the
noun in `type` names; `timestamp` is the instant of the act.

Answer 2xx within 15 seconds. Anything else is tried again, ever more seldom, for about a day, and
410 ends it. An event may come twice, with the same `webhook-id`, and events may overtake each
other: read the thing itself.

{_MEANINGS}

A test:

- `{TEST}`: An admin has sent a test; the id is the webhook's own."""
_BODY = {
    "type": "object",
    "properties": {
        "type": {"type": "string", "enum": [*EVENTS, TEST]},
        "timestamp": {"type": "string", "format": "date-time"},
        "data": {
            "type": "object",
            "properties": {"id": {"type": "integer"}},
            "required": ["id"],
        },
    },
    "required": ["type", "timestamp", "data"],
}
_FIELDS = {
    "webhook-id": "The same for every attempt of one event.",
    "webhook-timestamp": "Seconds since 1970, of this attempt.",
    "webhook-signature": "One or more signatures, apart by spaces; any of them is enough.",
}
EVENT_WEBHOOK = OpenApiWebhook(
    name="event",
    decorator={
        "post": {
            "operationId": "receive_event",
            "summary": "Something has happened",
            "description": _DESCRIPTION,
            "parameters": [
                {
                    "in": "header",
                    "name": name,
                    "description": said,
                    "required": True,
                    "schema": {"type": "string"},
                }
                for name, said in _FIELDS.items()
            ],
            "requestBody": {"required": True, "content": {"application/json": {"schema": _BODY}}},
            "responses": {"2XX": {"description": "It has arrived."}},
        }
    },
)


class WebhooksAsked(PageAsked):
    """All webhooks."""

    order = ("id",)
    in_order = "The oldest first."


class AttemptsAsked(PageAsked):
    """The attempts to tell one webhook."""

    order = ("-id",)
    in_order = "The newest first."
