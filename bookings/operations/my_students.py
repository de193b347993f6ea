"""Reading a list of students. What it shows of others' notes is logged before it is shown."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings.operations.reading_notes import log_listed
from bookings.queries.my_students import Entry, entries


def read_entries(
    *, reader: User, students: Sequence[Student], instructor: Instructor | None, now: datetime
) -> list[Entry]:
    """These students as the reader's list shows them, in their order; three queries at most.

    `instructor` is whose list it is, None for everybody's; `access_list_of` judged it.
    """
    found = entries(students, reader, instructor, now=now)
    log_listed(
        reader=reader, notes=[one.note for one in found if one.note and one.obstacle], now=now
    )
    return found
