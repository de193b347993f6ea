"""What other programs are told of: events follow from the audit, in the transaction of the act."""

import ast
import json
import re
from pathlib import Path

import pytest

import bookings
from bookings import door, outbox
from bookings.domain.errors import Refused
from bookings.domain.events import TEST, WORDS, Event, acts, event_of
from bookings.domain.standard_webhooks import new_signing_secret
from bookings.domain.vocabulary import Ended
from bookings.models import OutboxMessage, Webhook
from bookings.operations.booking import book_slot, cancel_slot
from bookings.operations.calling_off import call_off
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db
FRIDAY = at("2027-03-05T15:00:00+00:00")


def hook(*kinds: Event, **fields: object) -> Webhook:
    """A webhook that is told of these events."""
    made = Webhook(
        name="Accounting",
        address="https://books.rowanmere.example/told",
        kinds=[kind.value for kind in kinds],
        made_at=NOW,
        **fields,
    )
    made.secret = new_signing_secret()
    made.save()
    return made


def told() -> list[dict]:
    """The bodies of the deliveries, in order."""
    return [json.loads(row.body) for row in OutboxMessage.objects.deliveries().order_by("pk")]


def booked(**how: object):
    cast.make_policy()
    lesson, ilse, noor = cast.make_offering(), cast.make_instructor(), cast.make_student()
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    return door.write(
        lambda: book_slot(
            actor=noor.user,
            student=noor,
            offering=lesson,
            instructor=ilse,
            starts_at=FRIDAY,
            now=NOW,
        ),
        now=NOW,
    )


def test_a_booking_made_and_cancelled_is_told_by_its_id_alone() -> None:
    """Kinds, ids and the instant of the act: no name, no note, no time of the lesson.

    Source: Standard Webhooks 1.0.0, "Payload structure" and thin payloads.
    """
    hook(Event.BOOKING_MADE, Event.BOOKING_CANCELLED)
    booking = booked()
    cancelled = door.write(
        lambda: cancel_slot(actor=booking.student.user, booking=booking, now=NOW), now=NOW
    )
    assert cancelled.ended_why == Ended.CANCELLED_IN_TIME
    assert told() == [
        {"type": kind, "timestamp": NOW.isoformat().replace("+00:00", "Z"), "data": {"id": pk}}
        for kind, pk in (("booking.made", booking.pk), ("booking.cancelled", booking.pk))
    ]


def test_only_who_wants_an_event_is_told_and_nobody_while_paused() -> None:
    """Two receivers of one event share its id, so that a program behind both takes it once."""
    one, other = hook(Event.BOOKING_MADE), hook(*Event)
    hook(Event.MEETING_CALLED_OFF)
    hook(*Event, paused_at=NOW, paused_why=Webhook.Paused.BY_HAND)
    booked()
    rows = OutboxMessage.objects.deliveries()
    assert set(rows.values_list("webhook", flat=True)) == {one.pk, other.pk}
    assert len(set(rows.values_list("message_id", flat=True))) == 1


def test_a_meeting_called_off_is_one_event_however_many_were_booked() -> None:
    """The meeting is told, not each of its bookings, and never the reason."""
    hook(*Event)
    booking = booked()
    OutboxMessage.objects.deliveries().delete()
    call = {"actor": cast.make_admin(), "meeting": booking.meeting, "why": "A broken string"}
    door.write(lambda: call_off(**call, now=NOW), now=NOW)
    kinds = [one["type"] for one in told()]
    assert kinds.count("meeting.called_off") == 1
    assert "broken" not in json.dumps(told())


def test_what_is_refused_tells_nobody() -> None:
    """The row is written in the transaction of the act, and goes with it."""
    hook(*Event)
    booking = booked()
    before = len(told())
    with pytest.raises(Refused):
        door.write(
            lambda: cancel_slot(actor=booking.student.user, booking=booking, version=99, now=NOW),
            now=NOW,
        )
    assert len(told()) == before


def test_an_event_is_no_email() -> None:
    """Emails are claimed, counted and shown without the deliveries, and the other way round."""
    hook(*Event)
    booked()
    deliveries = OutboxMessage.objects.deliveries()
    emails = OutboxMessage.objects.emails().filter(due_at__lte=NOW).count()
    assert {row.webhook_id for row in outbox.claim(NOW, 50)} == {None}
    claimed = outbox.claim_delivery(NOW)
    assert claimed is not None and claimed.hook.name == "Accounting"
    assert emails == 2
    deliveries.update(state=OutboxMessage.State.GIVEN_UP)
    assert not outbox.given_up_lately(NOW).exists()


def test_every_act_that_is_an_event_is_recorded_somewhere() -> None:
    """A verb that an operation words anew would silence its event.

    Verbs that are made of two parts stand in the enums whose values they hold.
    """
    source = Path(bookings.__file__).parent / "operations"
    texts = {
        node.value
        for path in source.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    made_of_parts = {
        *("accepted a move", "refused a move", "declined", "lapsed", "removed"),
        *("by hand", "carried out"),
    }
    assert {verb for verb, _ in acts()} - made_of_parts <= texts


def test_every_event_has_words_and_at_least_one_act() -> None:
    """Types are groups and a past participle, of letters, underscores and full stops.

    Source: Standard Webhooks 1.0.0, "Event types".
    """
    assert set(WORDS) == set(Event)
    assert {event_of(*act) for act in acts()} == set(Event)
    assert all(re.fullmatch(r"[a-z_]+\.[a-z_]+", kind) for kind in (*Event, TEST))
    assert event_of("read", "assessment") is None
