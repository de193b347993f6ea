"""People brought in from a file, past the pages."""

from accounts.models import Guardianship, Student, User, Welcome
from bookings.domain.people_files import MOST_ROWS
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.bringing_in import bring_in, keep_file
from bookings.operations.invitations import come_in
from bookings.queries.bringing_in import people_plan
from tests import cast
from tests.cast import NOW
from tests.school.people_files import ADULT, MINOR, text_of


def keep(dag, *rows, now=NOW):
    """A file that waits for this admin."""
    content = text_of(*rows).encode()
    return write(lambda: keep_file(actor=dag, content=content, now=now), now=now)


def bring(dag, kept, seen=None, now=NOW):
    """What came of a file that waits, as it is shown now unless `seen` says otherwise."""
    seen = people_plan(kept.text, now=now).digest if seen is None else seen
    return write(lambda: bring_in(actor=dag, file_id=kept.pk, seen=seen, now=now), now=now)


def brought(dag, *rows, now=NOW):
    """What came of these rows."""
    return bring(dag, keep(dag, *rows, now=now), now=now)


def faults(*rows):
    """Each fault as (row, heading, what to change)."""
    return [(fault.row, fault.column, fault.detail) for fault in plan_of(*rows).faults]


def plan_of(*rows):
    """What these rows would do now."""
    return people_plan(text_of(*rows), now=NOW)


def secret_to(email):
    """The secret of the last invitation to this address."""
    body = OutboxMessage.objects.filter(kind="welcome", to_address=email).latest("pk").body
    return body.split("/welcome/")[1].split("/")[0]


def joins(email, name="Somebody"):
    """Whoever opens that invitation."""
    return write(
        lambda: come_in(
            secret=secret_to(email), name=name, time_zone="UTC", password=cast.PASSWORD, now=NOW
        ),
        now=NOW,
    )


def stored():
    """How many rows there are of all that a file can add to."""
    models = (Student, Welcome, OutboxMessage, AuditRow, User, Guardianship)
    return [model._default_manager.count() for model in models]


def rows_of_a_large_school(count=MOST_ROWS):
    """Adults, and minors who share guardians by twos."""
    for number in range(count):
        if number % 2:
            yield {**ADULT, "Name": f"Adult {number}", "Email": f"adult{number}@rowanmere.example"}
        else:
            family = {
                "Guardian": f"Guardian {number // 4}",
                "Guardian email": f"guardian{number // 4}@rowanmere.example",
            }
            yield {**MINOR, "Name": f"Minor {number}", **family}
