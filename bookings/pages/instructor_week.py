"""Seven days of an instructor's own starts for one student, on the instructor's clock."""

from datetime import datetime
from typing import Any

from django.http import HttpRequest

from accounts.models import Instructor, Student
from bookings.domain.proposed_times import without_lead
from bookings.domain.zones import zone
from bookings.models import Booking, Offering
from bookings.pages.forms.proposing import ShownDaysForm
from bookings.pages.slot_week import Search, week_of_times
from bookings.pages.times import page_of_week
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import instructors_for, zone_of_hours
from bookings.queries.times import Taught


def instructor_week(
    request: HttpRequest,
    *,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    book_at: str,
    moving: Booking | None = None,
    now: datetime,
) -> dict[str, Any]:
    """The context of `_shown_days.html` and `_times.html`.

    It begins on the day asked for, else on the day of the lesson that is `moving`, else today. The
    school's own bookings have no lead time. A start leads to `book_at`.
    """
    here, shown_days = zone_of_hours(instructor), ShownDaysForm(request.GET)
    since = shown_days.cleaned_data.get("since") if shown_days.is_valid() else None
    if since is None and moving is not None:
        since = moving.starts_at.astimezone(zone(here)).date()
    people = instructors_for(offering, student.level, instructor.pk)
    asked = {"since": since, "instructor": instructor}
    search = Search(
        student=student,
        offering=offering,
        asked=asked,
        taught=Taught(student.level, [offering], {offering.pk: people}),
        policy=without_lead(policy_in_force(now).rules()),
        book_at=book_at,
        now=now,
        with_far=request.GET.get("far") == "on",
        moving=moving.meeting if moving is not None else None,
        use_by=moving.use_by if moving is not None else None,
        teaching_zone=here,
        by_school=True,
    )
    return {"shown_days": shown_days, **page_of_week(week_of_times(search), asked, request.GET)}
