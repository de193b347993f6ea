"""Accounts, teaching, students, guardians and consents that end: the page before, and the act."""

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.closing import close_account, leave_school
from bookings.operations.guardians import remove_guardian, withdraw_consent
from bookings.operations.leaving import dismiss_instructor
from bookings.pages.forms.fields import line_of
from bookings.pages.parameters import read_seen
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.accounts_of_people import one_person
from bookings.queries.guardians import any_guardianship, own_guardianship
from bookings.queries.leaving import (
    Ends,
    ends_with_account,
    ends_with_consent,
    ends_with_guardian,
    ends_with_instructor,
    ends_with_student,
)
from bookings.queries.people import one_student, one_teacher


@dataclass(frozen=True, slots=True)
class Leaving:
    """The page: its heading, what follows, its button, the message after it, and the next page.

    `seen` is a digest of what the page shows of a person, where the act is held to it.
    """

    title: str
    follows: list[str]
    button: str
    done: str
    back: str
    time_zone: str
    asks_why: bool = True
    seen: str = ""


@login_required
@require_http_methods(["GET", "POST"])
def close(request: HttpRequest, user_id: int) -> HttpResponse:
    """Closes an account."""
    person, now = one_person(user_of(request), user_id), clock.now()
    user = person.user
    said = Leaving(
        f"Close the account of {user.name}?",
        [
            "They can no longer sign in. Their roles end,"
            " and their calendar addresses stop working.",
            "Nothing is deleted. You can open the account again.",
        ],
        "Close the account",
        f"Closed: the account of {user.name}.",
        "people",
        user_of(request).zone,
        seen=person.seen,
    )
    return _page(
        request,
        said,
        ends_with_account(user, now=now),
        lambda why: close_account(
            actor=user_of(request), user=user, why=why, seen=read_seen(request), now=now
        ),
    )


@login_required
@require_http_methods(["GET", "POST"])
def dismiss(request: HttpRequest, user_id: int) -> HttpResponse:
    """Ends somebody's teaching."""
    teacher, now = one_teacher(user_of(request), user_id), clock.now()
    said = Leaving(
        f"{teacher} no longer teaches here?",
        ["Nothing can be booked with them, and their weekly places end. Their account stays."],
        "End their teaching",
        f"{teacher} no longer teaches here.",
        "people",
        user_of(request).zone,
    )
    return _page(
        request,
        said,
        ends_with_instructor(teacher, now=now),
        lambda why: dismiss_instructor(
            actor=user_of(request), instructor=teacher, call_off_why=why, now=now
        ),
    )


@login_required
@require_http_methods(["GET", "POST"])
def leave(request: HttpRequest, student_id: int) -> HttpResponse:
    """A student leaves the school."""
    student, now = one_student(user_of(request), student_id), clock.now()
    said = Leaving(
        f"{student.full_name} leaves the school?",
        ["Nothing can be booked for them. Their past lessons stay on record."],
        "End their lessons",
        f"{student.full_name} has left the school.",
        "people",
        student.zone,
    )
    return _page(
        request,
        said,
        ends_with_student(student, now=now),
        lambda why: leave_school(actor=user_of(request), student=student, why=why, now=now),
    )


@login_required
@require_http_methods(["GET", "POST"])
def remove(request: HttpRequest, guardianship_id: int) -> HttpResponse:
    """Removes a guardian."""
    row, now = any_guardianship(user_of(request), guardianship_id), clock.now()
    child = row.student.first_name
    said = Leaving(
        f"{row.guardian.name} is no longer a guardian of {child}?",
        [
            f"They no longer see {child}’s lessons, here or in their calendar,"
            " and get no emails about them."
        ],
        "Remove the guardian",
        f"{row.guardian.name} is no longer a guardian of {child}.",
        "people",
        row.student.zone,
    )
    return _page(
        request,
        said,
        ends_with_guardian(row, now=now),
        lambda why: remove_guardian(actor=user_of(request), guardianship=row, why=why, now=now),
    )


@login_required
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, guardianship_id: int) -> HttpResponse:
    """A guardian takes their consent back."""
    row, now = own_guardianship(user_of(request), guardianship_id), clock.now()
    child = row.student.first_name
    said = Leaving(
        f"Withdraw your consent for {child}?",
        [
            f"Every guardian of {child} gets an email. You can give consent again on the page Me.",
            "You will not be charged for lessons that are cancelled with it.",
        ],
        "Withdraw my consent",
        f"Your consent for {child} has been withdrawn.",
        "me",
        row.student.zone,
        asks_why=False,
    )
    return _page(
        request,
        said,
        ends_with_consent(row, now=now),
        lambda why: withdraw_consent(
            actor=user_of(request), guardianship=row, end_bookings=why is not None, now=now
        ),
    )


def _page(
    request: HttpRequest, said: Leaving, ends: Ends, act: Callable[[str | None], object]
) -> HttpResponse:
    """GET names what ends; POST ends it.

    A refusal names what has been booked since the page was shown.
    """
    refusal, now = None, clock.now()
    if request.method == "POST":
        typed = line_of(request.POST.get("why", "")) if said.asks_why else _agreed(request)
        try:
            write(lambda: act(typed or None), now=now)
        except Refused as error:
            refusal = error
        else:
            messages.success(request, said.done)
            return redirect(said.back)
    return show(request, "levare/leaving.html", {"said": said, "ends": ends, "refusal": refusal})


def _agreed(request: HttpRequest) -> str:
    return "yes" if request.POST.get("end") == "yes" else ""
