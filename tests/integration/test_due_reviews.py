"""Who is due a review is found without reading everybody, and is whoever reading all would find."""

from datetime import timedelta
from itertools import product

import pytest

from bookings.queries.my_students import Wanted, due_among, entries, students_wanted
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db

DAYS_SINCE_LAST = (None, 7, 63)
DAYS_UNTIL_NEXT = (None, 3, 40)
FOLLOW_UPS = (None, -10, 5, 30)
OBSTACLES = ("", "The fourth finger stays out.")


def test_whoever_is_left_out_is_not_due() -> None:
    """Every mix of a lesson behind, a lesson ahead and a note, for an admin and an instructor."""
    cast.make_policy()
    dag, ilse = cast.make_admin(), cast.make_instructor()
    lesson = cast.make_offering()
    notes = [None, *product(FOLLOW_UPS, OBSTACLES)]
    mixes = product(DAYS_SINCE_LAST, DAYS_UNTIL_NEXT, notes)
    for number, (since, until, note) in enumerate(mixes):
        student = cast.make_student(f"Learner {number:02}")
        for days in (since and -since, until):
            if days is not None:
                begun = NOW + timedelta(days=days, minutes=40 * number)
                cast.taught(ilse, student, lesson, begun)
        if note is not None:
            follow_up, obstacle = note
            on = None if follow_up is None else NOW.date() + timedelta(days=follow_up)
            cast.make_assessment(
                student,
                ilse,
                state="released",
                released_at=NOW - timedelta(days=1),
                follow_up_on=on,
                obstacle=obstacle,
            )

    for reader, instructor in ((dag, None), (ilse.user, ilse)):
        rows = students_wanted(reader, Wanted(instructor=instructor), now=NOW)
        read = entries(list(rows), reader, instructor, now=NOW)
        due = {one.due.student_id: one.due for one in read if one.due is not None}
        found = due_among(rows, reader, instructor, now=NOW)
        assert {one.student_id: one for one in found} == due
        assert 0 < len(due) < len(read)
