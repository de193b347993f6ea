"""Moving a weekly place, a sibling's next to it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_weekly_place
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.weekly import move_weekly_place
from bookings.pages.acting import family, number, person
from bookings.pages.weekly_forms import WeeklyForm
from bookings.pages.weekly_rows import in_words, on_weekday, rows_of
from bookings.queries.times import Taught
from bookings.queries.weekly import options_instead


@login_required
@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, place_id: int) -> HttpResponse:
    """GET shows the weekly times that hold every date, a sibling's next to it; POST moves there."""
    now, user = clock.now(), person(request)
    place = access_own_weekly_place(user, place_id, now=now, own=family(user))
    refusal = None
    if request.method == "POST":
        weekday, wall_at, *after = _read_time(request.POST.get("to", ""))
        try:
            write(
                lambda: move_weekly_place(
                    actor=user,
                    place=place,
                    weekday=weekday,
                    wall_at=wall_at,
                    next_wall_at=after[0] if after else None,
                    now=now,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, "Moved. One email with all the new dates is on its way.")
            return redirect("weekly")
    form = WeeklyForm(request.GET, taught=Taught(place.student.level, [], {}), terms=[])
    for name in ("term", "offering", "instructor"):
        del form.fields[name]
    asked = form.cleaned_data if form.is_valid() else {}
    found = options_instead(
        place=place,
        user=user,
        earliest=asked.get("earliest"),
        latest=asked.get("latest"),
        own=family(user),
        now=now,
    )
    whole = [pair for pair in found.options if not any(one and one.failed for one in pair)]
    best, days = rows_of(
        on_weekday(whole, asked.get("weekday")),
        lambda option: in_words(option, place.student.zone, place.zone),
        place.student.zone,
    )
    page = {
        "place": place,
        "student": place.student,
        "following": found.following,
        "refusal": refusal,
        "form": form,
        "is_asked": any(value is not None for value in asked.values()),
        "best": best,
        "days": days,
    }
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/move_weekly.html", page, status=status)


def _read_time(text: str) -> list[int]:
    """Weekday, minute and, for a pair, the sibling's minute, of a form's value such as "1-1020-1050"."""
    parts = text.split("-")
    if len(parts) not in (2, 3):
        raise Refused("not-found", "Choose one of the weekly times.")
    return [number(part) for part in parts]
