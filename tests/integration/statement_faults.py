"""Faults of statements of hours that the audit looks for, each written past the guards."""

from tests import cast
from tests.integration.places_faults import group
from tests.school.statements import statement_of


def line_with_a_wrong_total() -> tuple[str, str, int]:
    meeting = group()
    statement = statement_of(meeting.instructor, cast.make_admin(), meeting)
    statement.lines.update(total_minutes=51)
    return "total", "statement line", statement.lines.get().pk


def two_lines_of_one_meeting() -> tuple[str, str, int]:
    meeting = group()
    statement = statement_of(meeting.instructor, cast.make_admin(), meeting)
    line = statement.lines.get()
    line.pk, line.position, line.correction, line.total_minutes = None, 2, 1, 100
    line.save()
    return "counter-line", "statement", statement.pk


def day_in_two_statements() -> tuple[str, str, int]:
    ilse = cast.make_instructor()
    statement_of(ilse, cast.make_admin())
    later = statement_of(ilse, cast.make_admin("Ida Quince"))
    return "statement_days_free", "statement", later.pk


FAULTS = [line_with_a_wrong_total, two_lines_of_one_meeting, day_in_two_statements]
