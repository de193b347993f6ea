"""What every template knows: the school, the reader's clock and family, and the links on top."""

from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from accounts.models import User
from bookings import clock
from bookings.domain.email_troubles import IN_WORDS, Trouble
from bookings.domain.zone_names import current_name
from bookings.domain.zones import TZDATA_VERSION, is_known, zone
from bookings.pages.signed_in import consents_missing, family, roles
from bookings.queries.roles import Roles

ZONE_COOKIE = "browser_zone"
ZONE_KEPT = "zone_kept"
_ALSO = {
    "/today/": ("/brief/", "/wrap-up/"),
    "/times/": ("/hours-to-come/",),
    "/my-students/": ("/due-a-review/",),
    "/calendars/": ("/busy-calendars/",),
    "/setting-up/": ("/policy/", "/offerings/", "/techniques/", "/retention/", "/programs/"),
}
"""Pages that a link leads to by a page of its own: it is current on them as well."""


def school(request: HttpRequest) -> dict[str, Any]:
    """The context of every template. An error page may be rendered before the user is known."""
    first, _, rest = settings.SCHOOL_NAME.partition(" ")
    known: dict[str, Any] = {
        "school": settings.SCHOOL_NAME,
        "school_first": first,
        "school_rest": rest,
        "tzdata": TZDATA_VERSION,
    }
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return known
    now, students = clock.now(), family(user)
    return {
        **known,
        "now": now,
        "my_zone": user.zone,
        "family": students,
        "consents": consents_missing(user),
        "email_trouble": _email_trouble(user),
        "navigation": _navigation(request, user, roles(user), has_family=bool(students)),
        "other_zone": _other_zone(request, user, now),
    }


def _email_trouble(user: User) -> dict[str, Any]:
    """Why emails to the reader wait, in words; empty where they leave."""
    why = roles(user).email_trouble
    if not why:
        return {}
    return {"why": IN_WORDS[Trouble(why)], "is_complaint": why == Trouble.COMPLAINT}


def _navigation(
    request: HttpRequest, user: User, held: Roles, *, has_family: bool
) -> list[tuple[str, str, bool]]:
    """(address, name, whether it is the current page) of each link that this user needs."""
    links = [("/needs/", "Needs you now")] if held.is_admin else []
    if held.runs_meetings:
        links += [("/today/" if held.teaches else "/today/all/", "Today")]
    if has_family:
        links += [
            ("/times/", "Times that suit"),
            ("/weekly/", "Weekly places"),
            ("/my-lessons/", "My lessons"),
            ("/practice/", "Practice plan"),
        ]
    if held.runs_meetings:
        links += [("/my-students/", "My students" if held.teaches else "Students")]
    if held.teaches:
        links += [("/hours/", "Hours I teach")]
    links += [("/meetings/", "Meetings" if held.runs_meetings else "Group meetings")]
    if held.runs_meetings:
        count = f" ({held.move_requests})" if held.move_requests else ""
        links += [("/move-requests/", f"Requests to move{count}")]
    if user.is_staff:
        links += [
            ("/plans/", "Plans"),
            ("/people/", "People"),
            ("/terms/", "Terms"),
            ("/setting-up/", "Setting up"),
        ]
    links += [("/calendars/", "Calendars")]
    if user.is_staff:
        links += [("/office/", "Office")]
    return [
        (path, name, request.path.startswith((path, *_ALSO.get(path, ())))) for path, name in links
    ]


def _other_zone(request: HttpRequest, user: User, now: datetime) -> str | None:
    """The browser's zone if its clock is another than the account's and they have not chosen."""
    browser = request.COOKIES.get(ZONE_COOKIE, "")
    if (
        not is_known(browser)
        or request.session.get(ZONE_KEPT) == browser
        or same_clock(browser, user.zone, now)
    ):
        return None
    return current_name(browser)


def same_clock(one: str, other: str, now: datetime) -> bool:
    """Whether the clocks of two zones agree for a year from `now`."""
    weeks = (now + timedelta(days=7 * week) for week in range(53))
    return all(
        at.astimezone(zone(one)).utcoffset() == at.astimezone(zone(other)).utcoffset()
        for at in weeks
    )
