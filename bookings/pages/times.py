"""Times that suit: seven days of starts on the student's clock."""

from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.access import acts_as_school
from bookings.pages.forms.times import TimesForm
from bookings.pages.making_up import owed_named
from bookings.pages.signed_in import acting_student, user_of
from bookings.pages.slot_week import Search, Week, week_of_times
from bookings.pages.templatetags.formatting import minute_as_time
from bookings.queries.owed import check_still_owed
from bookings.queries.policies import policy_in_force
from bookings.queries.times import allowance, taught_to

_HOURS = ("part", "earliest", "latest")
_KEPT = ("offering", "owed", "instructor", *_HOURS, "far", "never")


@login_required
@require_GET
def times(request: HttpRequest) -> HttpResponse:
    """The best starts, then the days. No starts if the student may not book any more."""
    student, now = acting_student(request), clock.now()
    taught, owed = taught_to(student), owed_named(request, student)
    if owed is not None:
        check_still_owed(owed)
        taught = taught.only([owed.offering])
    form = TimesForm(request.GET, taught=taught)
    asked = form.cleaned_data if form.is_valid() else {}
    offering = asked.get("offering") or next(iter(taught.offerings), None)
    context: dict[str, Any] = {
        "form": form,
        "student": student,
        "offering": offering,
        "instructor": asked.get("instructor"),
        "owed": owed,
    }
    if offering is not None:
        policy = policy_in_force(now).rules()
        context["allowance"] = allowed = allowance(student, offering, policy, now=now)
        if allowed is None or allowed.left or owed is not None:
            search = Search(
                student=student,
                offering=offering,
                asked=asked,
                taught=taught,
                policy=policy,
                book_at="/times/book/",
                now=now,
                with_far=request.GET.get("far") == "on",
                with_never=request.GET.get("never") == "on",
                by_school=acts_as_school(user_of(request), student),
                owed_id=owed.pk if owed else None,
                use_by=owed.use_by if owed else None,
            )
            context |= page_of_week(week_of_times(search), asked, request.GET)
    return render(request, "levare/times.html", context, status=422 if form.errors else 200)


def page_of_week(week: Week, asked: dict[str, Any], query: QueryDict) -> dict[str, Any]:
    """The context of `_times.html`: the days, links to other days, and the days without a start."""
    kept = {name: query[name] for name in _KEPT if query.get(name)}
    every_hour = {name: value for name, value in kept.items() if name not in _HOURS}
    hours = _hours(asked)
    listed = {name: value for name, value in kept.items() if name != "never"}
    missing = [day for day in week.days if not day.has_starts] if hours else []
    return {
        "week": week,
        "with_never": "never" in kept,
        "without_never": urlencode({**listed, "since": week.first.isoformat()}),
        "days": [day for day in week.days if day not in missing],
        "hours": hours,
        "missing": missing,
        "kept": urlencode(kept),
        "widened": urlencode({**every_hour, "since": week.first.isoformat()}),
    }


def _hours(asked: dict[str, Any]) -> str:
    """The hours looked for, in words; empty where any will do."""
    earliest, latest = asked.get("earliest"), asked.get("latest")
    if earliest is None:
        return "" if latest is None else f"before {minute_as_time(latest)}"
    if latest is None:
        return f"after {minute_as_time(earliest)}"
    return f"between {minute_as_time(earliest)} and {minute_as_time(latest)}"
