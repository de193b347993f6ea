"""Term account: a family's own, and for admins those of all students, on a page and as CSV."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.access import access_term, require_admin
from bookings.domain.errors import Refused
from bookings.models import Term
from bookings.operations.owed import carry_in
from bookings.pages.account_rows import OUTCOMES, numbers_of, parts_of
from bookings.pages.csv_files import csv_file
from bookings.pages.forms.lists import ListForm
from bookings.pages.forms.owed import CarriedInForm
from bookings.pages.pagination import paginate
from bookings.pages.sent_once import write_once
from bookings.pages.showing import show
from bookings.pages.signed_in import named_student, user_of
from bookings.queries.accounts import PAGE_OF, account_in, accounts_in, students_with_account
from bookings.queries.offerings import private_lessons

HEAD = ["Promised", "Carried in", "Extra", *OUTCOMES.values()]


@login_required
@require_http_methods(["GET", "POST"])
def term_account(request: HttpRequest, term_id: int, student_id: int) -> HttpResponse:
    """GET shows one student's account of a term; an admin's POST carries a lesson in."""
    user, now = user_of(request), clock.now()
    term, student = access_term(term_id), named_student(user, student_id)
    if request.method == "POST":
        require_admin(user)
    if not user.is_staff:
        return _page(request, term, student, None, now)
    form = CarriedInForm(request.POST or None, offerings=list(private_lessons()))
    if request.method == "GET" or not form.is_valid():
        return _page(request, term, student, form, now)
    try:
        write_once(
            request,
            lambda: carry_in(actor=user, student=student, term=term, now=now, **form.cleaned_data),
            now=now,
        )
    except Refused as refusal:
        return _page(request, term, student, form, now, refusal)
    messages.success(request, "Carried in. The family gets an email.")
    return redirect("term-account", term_id=term.pk, student_id=student.pk)


def _page(
    request: HttpRequest,
    term: Term,
    student: Student,
    form: CarriedInForm | None,
    now: datetime,
    refusal: Refused | None = None,
) -> HttpResponse:
    found = account_in(student, term, now=now)
    context = {
        "term": term,
        "student": student,
        "account": found.account,
        "parts": parts_of(found),
        "form": form,
        "refusal": refusal,
    }
    return show(request, "levare/term_account.html", context)


@login_required
@require_GET
def term_accounts(request: HttpRequest, term_id: int) -> HttpResponse:
    """The accounts of a term by student, for admins."""
    require_admin(user_of(request))
    term, now, form = access_term(term_id), clock.now(), ListForm(request.GET)
    words = form.words
    rows = students_with_account(term, user_of(request), words=words, now=now)
    shown = paginate(rows, request.GET.get("page"), size=PAGE_OF)
    found = accounts_in(term, shown.rows, now=now)
    context = {
        "term": term,
        "form": form,
        "shown": shown,
        "head": HEAD,
        "rows": [(one.student, list(zip(HEAD, numbers_of(one), strict=True))) for one in found],
    }
    return show(request, "levare/term_accounts.html", context)


@login_required
@require_GET
def term_accounts_file(request: HttpRequest, term_id: int) -> HttpResponse:
    """All accounts of a term as CSV, for admins."""
    require_admin(user_of(request))
    term, now = access_term(term_id), clock.now()
    students = list(students_with_account(term, user_of(request), now=now))
    rows: list[list[str | int]] = [
        [one.student.full_name, *numbers_of(one)] for one in accounts_in(term, students, now=now)
    ]
    return csv_file(f"accounts-of-term-{term.pk}.csv", ["Student", *HEAD], rows)
