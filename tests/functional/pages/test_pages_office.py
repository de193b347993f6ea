"""The office in the admin site: it acts through the operations and only looks at their rows."""

import re

import pytest

from bookings.models import Feed, OutboxMessage
from tests.cast import NOW, make_booking
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql


def test_the_office_acts_through_the_operations(school: School) -> None:
    """Calling off asks why on a page between; the operation does the rest; a one-on-one is not
    emptied behind its meeting's back.
    """
    dag = as_user(school.dag)
    asked = {"action": "call_off_meetings", "_selected_action": [school.circle.pk]}
    assert "Why" in text_of(dag.post("/office/bookings/meeting/", asked))
    dag.post("/office/bookings/meeting/", {**asked, "why": "Snow"})
    school.circle.refresh_from_db()
    assert (school.circle.status, school.circle.called_off_why) == ("CANCELLED", "Snow")
    asked = {"action": "remove_from_roster", "_selected_action": [school.booking.pk], "why": "x"}
    assert "Call the meeting off" in text_of(
        dag.post("/office/bookings/booking/", asked, follow=True)
    )
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"


def test_the_office_removes_from_a_roster_revokes_and_sends_again(school: School) -> None:
    """Each action is one operation a row."""
    dag, booking = as_user(school.dag), make_booking(school.circle, school.noor)
    dag.post(
        "/office/bookings/booking/",
        {"action": "remove_from_roster", "_selected_action": [booking.pk], "why": "Moves away"},
    )
    booking.refresh_from_db()
    assert booking.ended_why == "removed"
    message = OutboxMessage.objects.latest("pk")
    OutboxMessage.objects.update(state="sent", sent_at=NOW)
    dag.post(
        "/office/bookings/outboxmessage/",
        {"action": "send_once_more", "_selected_action": [message.pk]},
    )
    message.refresh_from_db()
    assert message.state == "due"
    as_user(school.noor.user).post("/calendars/", {"label": "Phone"})
    dag.post(
        "/office/bookings/feed/", {"action": "revoke", "_selected_action": [Feed.objects.get().pk]}
    )
    assert Feed.objects.get().revoked_at == NOW


@pytest.mark.parametrize(
    "table",
    ["meeting", "booking", "outboxmessage", "feed", "auditrow", "studiopolicy", "offering"],
)
def test_the_office_only_looks_at_what_operations_write(school: School, table: str) -> None:
    """Lists and single rows open; no form of theirs changes or deletes; letters, secrets and join
    addresses are not shown.
    """
    as_user(school.noor.user).post("/calendars/", {"label": "Phone"})
    as_user(school.noor.user).post(f"/my-lessons/{school.booking.pk}/cancel/")
    dag, place = as_user(school.dag), f"/office/bookings/{table}/"
    page = text_of(dag.get(place))
    row = re.search(rf"{place}(\d+)/change/", page)[0]
    shown = text_of(dag.get(row))
    assert "/delete/" not in shown
    assert 'name="_save"' not in shown
    for secret in ("secret_digest", "Dear ", "rooms.rowanmere.example"):
        assert secret not in shown
    assert dag.post(row, {"_save": "1"}).status_code == 403
    assert as_user(school.ilse.user).get(place).status_code in (302, 403)
