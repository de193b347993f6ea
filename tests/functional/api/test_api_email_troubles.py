"""Addresses that cannot be reached, over the API: read, and sent to again."""

from bookings.models import AuditRow, EmailTrouble, OutboxMessage
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.matrix_people import bounced
from tests.functional.api.school import School


def test_an_admin_reads_which_addresses_cannot_be_reached(school: School) -> None:
    """With whose they are and what the mail server said; what may pass is not among them."""
    noor = school.noor.user
    trouble = bounced(noor.email)
    EmailTrouble.objects.filter(pk=trouble.pk).update(owner=noor)
    EmailTrouble.objects.create(address="slow@rowanmere.example", days=2, last_on=NOW.date())
    read = Api(school.dag).get("email-troubles/").json["results"]
    assert read == [
        {
            "id": trouble.pk,
            "email": noor.email,
            "account": noor.pk,
            "reason": "gone",
            "status": "5.1.1",
            "since": "2027-03-01T09:00:00Z",
        }
    ]
    assert Api(school.dag).get(f"email-troubles/{trouble.pk}/").json == read[0]


def test_an_admin_sends_to_an_address_again(school: School) -> None:
    """What waited for it leaves, the act is on record, and a second time nothing is there."""
    booking = school.booked()
    assert booking["id"]
    noor = school.noor.user
    trouble = bounced(noor.email)
    waits = OutboxMessage.objects.filter(to_address=noor.email, state="due")
    waits.update(held_since=NOW)
    dag = Api(school.dag)
    assert dag.delete(f"email-troubles/{trouble.pk}/").status == 204
    assert waits.exists() and not waits.filter(held_since__isnull=False).exists()
    assert AuditRow.objects.filter(verb="lifted", actor=school.dag).count() == 1
    assert dag.delete(f"email-troubles/{trouble.pk}/").status == 404
