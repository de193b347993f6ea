"""What statements of hours and the accounts of a term say, walked anew from the rows."""

from bookings.models import Booking, Mark, Meeting, Statement, StatementLine

CAME = {"PRESENT", "LATE"}


def check_statement(statement: Statement) -> None:
    """The lines of a statement, with its counter-lines, add up to the minutes that count."""
    lines = StatementLine.objects.filter(statement=statement)
    said = sum(lines.values_list("counted_minutes", flat=True))
    meetings = Meeting.objects.filter(
        instructor=statement.instructor_id,
        is_proposed=False,
        wall_on__gte=statement.first_on,
        wall_on__lte=statement.last_on,
    )
    walked = sum(meeting.minutes for meeting in meetings if _counts(meeting))
    assert said == walked, f"{statement} says {said} minutes, {walked} count"


def _counts(meeting: Meeting) -> bool:
    """Whether the instructor's time was taken: somebody came, or it was kept for somebody who gave
    no notice, and nobody says that the instructor was not there.
    """
    rows = list(Booking.objects.filter(meeting=meeting))
    late = any(row.ended_why == "cancelled-late" for row in rows)
    one_on_one = meeting.offering.kind in {"consultation", "private-lesson"}
    if meeting.status == "CANCELLED":
        return late and one_on_one and not any(row.ended_why == "called-off" for row in rows)
    held = [row.pk for row in rows if row.standing == "HELD"]
    if not held:
        return late
    marks = set(Mark.objects.filter(booking__in=held).values_list("attendance", flat=True))
    if marks & CAME:
        return True
    return "INSTRUCTOR_ABSENT" not in marks and "ABSENT_WITHOUT_NOTICE" in marks
