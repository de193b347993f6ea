"""The students that an admin chooses from for a plan: a search, and boxes to tick."""

from typing import Any

from django import forms
from django.http import HttpRequest

from bookings import clock
from bookings.pages.forms.my_students import StudentsForm
from bookings.pages.parameters import read_id
from bookings.pages.signed_in import user_of
from bookings.queries.my_students import students_by_id, students_wanted
from bookings.queries.regular_instructors import instructors_teaching

MOST_SHOWN = 200
_TICK_ALL = "tick-all"


def is_choosing(request: HttpRequest) -> bool:
    """Whether a button was pressed that asks for nothing: it shows other students, or ticks all."""
    return request.POST.get("then") in {"show", _TICK_ALL}


def fill_as_typed(form: forms.Form, request: HttpRequest) -> None:
    """Gives a form that was not sent what was typed so far, without looking for faults in it."""
    form.initial = {
        name: field.widget.value_from_datadict(request.POST, request.FILES, name)
        for name, field in form.fields.items()
    }


def students_to_choose(request: HttpRequest) -> dict[str, Any]:
    """The context of `_choose_students.html`. Those who are ticked stay, whatever is searched."""
    user, now = user_of(request), clock.now()
    asked = request.POST if is_choosing(request) else request.GET
    search = StudentsForm(asked, is_due=True, teachers=instructors_teaching())
    found = []
    if search.is_valid():
        found = list(students_wanted(user, search.wanted(None), now=now)[: MOST_SHOWN + 1])
    shown = found[:MOST_SHOWN]
    ticked = dict.fromkeys(map(read_id, request.POST.getlist("student")))
    if request.POST.get("then") == _TICK_ALL:
        ticked |= dict.fromkeys(student.pk for student in shown)
    on_page = {student.pk for student in shown}
    others = students_by_id([pk for pk in ticked if pk not in on_page])
    return {
        "search": search,
        "students": [*others, *shown],
        "has_more": len(found) > MOST_SHOWN,
        "chosen": ticked,
        "consenting": set(map(read_id, request.POST.getlist("consent"))),
    }
