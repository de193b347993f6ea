"""People: who belongs to the school, whom an admin invites, and one's own name and clock."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Student
from bookings import clock
from bookings.access import require_admin, whose_data
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.invitations import invite
from bookings.operations.people import change_me
from bookings.pages.busy import sections
from bookings.pages.context_processors import ZONE_COOKIE, ZONE_KEPT
from bookings.pages.forms.invitations import InviteForm
from bookings.pages.forms.lists import ListForm
from bookings.pages.forms.people import MeForm
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_id
from bookings.pages.sent_once import write_once
from bookings.pages.showing import show
from bookings.pages.signed_in import family, user_of
from bookings.queries.guardians import guardianships_of
from bookings.queries.people import (
    PAGE_OF,
    SHOWN_INVITATIONS,
    Group,
    counts,
    one_student,
    people_in,
)
from bookings.queries.undelivered import undelivered

LISTS = {
    Group.STUDENTS: "Students",
    Group.MINORS_ALONE: "Minors without a guardian",
    Group.INSTRUCTORS: "Instructors",
    Group.ADMINS: "Admins",
    Group.INVITED: "Invited, not joined yet",
    Group.LEFT: "Students who have left",
    Group.DISMISSED: "Taught here before",
    Group.CLOSED: "Closed accounts",
}


@login_required
@require_http_methods(["GET", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """For admins: one list of people at a time, searched and paged, and a form that invites."""
    require_admin(user_of(request))
    chosen, now = _chosen(request), clock.now()
    form = InviteForm(request.POST or None, of=chosen, role=request.GET.get("as", ""))
    if request.method == "GET" or not form.is_valid():
        return _people(request, form)
    values = form.cleaned_data
    try:
        write_once(
            request,
            lambda: invite(
                actor=user_of(request),
                email=values["email"],
                name=values["name"],
                now=now,
                **form.gives(),
            ),
            now=now,
        )
    except Refused as refusal:
        return _people(request, form, refusal)
    messages.success(
        request, f"Invited: {values['name']}. The link in the email works for two weeks."
    )
    return redirect("people")


def _chosen(request: HttpRequest) -> Student | None:
    """The student whom an invitation is about, as a student's page links here."""
    named = request.GET.get("of")
    return one_student(user_of(request), read_id(named)) if named else None


def _people(request: HttpRequest, form: InviteForm, refusal: Refused | None = None) -> HttpResponse:
    now, search = clock.now(), ListForm(request.GET, words="Part of a name or an email address")
    words = search.words
    known = {group.value for group in Group}
    wanted = request.GET.get("show", "")
    group = Group(wanted) if wanted in known else Group.STUDENTS
    rows = people_in(user_of(request), group, words, now=now)
    counted = counts(now=now)
    context = {
        "form": form,
        "refusal": refusal,
        "group": group.value,
        "groups": [
            (each.value, LISTS[each], counted[each])
            for each in Group
            if counted[each] or each in (group, Group.STUDENTS)
        ],
        "search": search,
        "words": words,
        "shown": paginate(rows, request.GET.get("page"), size=PAGE_OF),
        "invited": people_in(user_of(request), Group.INVITED, "", now=now)[:SHOWN_INVITATIONS],
        "all_invited": counted[Group.INVITED],
        "undelivered": undelivered(now),
    }
    return show(request, "levare/people.html", context, is_wrong=bool(search.errors))


@login_required
@require_http_methods(["GET", "POST"])
def me(request: HttpRequest) -> HttpResponse:
    """One's own name and clock."""
    user, now = user_of(request), clock.now()
    form = MeForm(request.POST or None, initial={"name": user.name, "time_zone": user.zone})
    if request.method == "POST" and form.is_valid():
        write(lambda: change_me(actor=user, now=now, **form.cleaned_data), now=now)
        messages.success(request, "Saved. Every page is on this clock from now on.")
        return redirect("me")
    context = {
        "form": form,
        "busy_of_family": sections(family(user)),
        "guardianships": guardianships_of(user),
        "whose_data": whose_data(user, family(user), now=now),
    }
    return show(request, "levare/me.html", context)


@login_required
@require_POST
def answer_zone(request: HttpRequest) -> HttpResponse:
    """Which clock to use: the browser's, or the account's as before."""
    chosen, now = request.POST.get("use", ""), clock.now()
    if chosen and chosen != "keep":
        write(lambda: change_me(actor=user_of(request), time_zone=chosen, now=now), now=now)
        messages.success(request, "Changed. Every page is on this clock from now on.")
    request.session[ZONE_KEPT] = request.COOKIES.get(ZONE_COOKIE, "")
    back = request.POST.get("next", "")
    return redirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "home")
