"""The desk of an admin: what needs them, in a school of one instructor and one student."""

from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student, User
from bookings.domain.needs import Need
from bookings.domain.vocabulary import Kind
from bookings.queries.needs import Needed, needed_of, needs_now
from bookings.queries.needs_rows import NeedRow, as_rows
from tests import cast
from tests.cast import NOW


def all_needed(reader: User, need: Need, now: datetime = NOW) -> list[NeedRow]:
    """All rows of the list of one kind."""
    return as_rows(list(needed_of(reader, need, now=now)))


class Desk:
    """Dag, an admin in Dublin; Ilse teaches Noor, who is an adult."""

    def __init__(self) -> None:
        cast.make_policy()
        self.dag: User = cast.make_admin()
        self.ilse: Instructor = cast.make_instructor()
        self.noor: Student = cast.make_student()
        self.lesson = cast.make_offering()
        self.group = cast.make_offering("Group meeting", Kind.GROUP_MEETING, 60)
        cast.teaches(self.ilse, self.lesson, self.group)

    def now(self, need: Need, **later: Any) -> Needed | None:
        """What there is of this kind."""
        found = needs_now(self.dag, now=NOW + timedelta(**later))
        return next((one for one in found if one.need is need), None)

    def the_one(self, need: Need) -> tuple[int | None, str]:
        """The id and name of the only one of this kind; its own list has the same."""
        found = self.now(need)
        assert found is not None
        assert found.count == 1
        assert list(found.first) == all_needed(self.dag, need)
        return found.first[0].id, found.first[0].name
