"""What every template knows: the school, the reader's clock, their ways through the house, and a
question about their zone.
"""

from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from accounts.models import User
from bookings import clock
from bookings.domain.zone_names import current_name
from bookings.domain.zones import TZDATA_VERSION, is_known, zone
from bookings.pages.signed_in import consents_missing, family, roles
from bookings.queries.roles import Roles

ZONE_COOKIE = "browser_zone"
ZONE_KEPT = "zone_kept"


def school(request: HttpRequest) -> dict[str, Any]:
    """For every template; an error page may be drawn before anybody is known."""
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
    now, kin = clock.now(), family(user)
    return {
        **known,
        "now": now,
        "my_zone": user.zone,
        "family": kin,
        "consents": consents_missing(user),
        "ways": _ways(request, user, roles(user), learns=bool(kin)),
        "other_zone": _other_zone(request, user, now),
    }


def _ways(
    request: HttpRequest, user: User, held: Roles, *, learns: bool
) -> list[tuple[str, str, bool]]:
    """(address, name, whether they are there now) by role."""
    ways = []
    if learns:
        ways += [
            ("/times/", "Times that suit"),
            ("/weekly/", "Weekly places"),
            ("/my-lessons/", "My lessons"),
        ]
    if held.teaches:
        ways += [("/hours/", "Hours I teach")]
    ways += [("/meetings/", "Meetings" if held.runs_meetings else "Group meetings")]
    if held.runs_meetings:
        count = f" ({held.move_requests})" if held.move_requests else ""
        ways += [("/move-requests/", f"Requests to move{count}")]
    if user.is_staff:
        ways += [("/people/", "People"), ("/terms/", "Terms")]
    ways += [("/calendars/", "Calendars")]
    if user.is_staff:
        ways += [("/office/", "Office")]
    return [(path, name, request.path.startswith(path)) for path, name in ways]


def _other_zone(request: HttpRequest, user: User, now: datetime) -> str | None:
    """The browser's zone, where its clock differs from the account's and they have not chosen between the two yet."""
    browser = request.COOKIES.get(ZONE_COOKIE, "")
    if (
        not is_known(browser)
        or request.session.get(ZONE_KEPT) == browser
        or same_clock(browser, user.zone, now)
    ):
        return None
    return current_name(browser)


def same_clock(one: str, other: str, now: datetime) -> bool:
    """Whether two zones read the same for a year from now: other names of a zone are nothing to ask about."""
    weeks = (now + timedelta(days=7 * week) for week in range(53))
    return all(
        at.astimezone(zone(one)).utcoffset() == at.astimezone(zone(other)).utcoffset()
        for at in weeks
    )
