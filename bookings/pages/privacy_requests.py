"""What was asked about a person's data: approved by an admin, or taken back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Student
from bookings import clock
from bookings.access import find_own_data, not_there, require_admin
from bookings.domain.vocabulary import PrivacyKind
from bookings.domain.wall import spoken
from bookings.door import write
from bookings.operations.privacy_requests import approve as approve_request
from bookings.operations.privacy_requests import take_back as take_back_request
from bookings.pages.confirmation import Question, confirmed
from bookings.pages.signed_in import user_of
from bookings.queries.privacy import asked_about, erased_on


@login_required
@require_http_methods(["GET", "POST"])
def approve_erasure(request: HttpRequest, student_id: int) -> HttpResponse:
    """Asks an admin once more, then approves an erasure."""
    return _approve(request, student_id, PrivacyKind.ERASURE)


@login_required
@require_http_methods(["GET", "POST"])
def approve_access(request: HttpRequest, student_id: int) -> HttpResponse:
    """Asks an admin once more, then approves an access export."""
    return _approve(request, student_id, PrivacyKind.ACCESS)


@login_required
@require_POST
def take_back_erasure(request: HttpRequest, student_id: int) -> HttpResponse:
    """Takes a request for an erasure back."""
    return _take_back(request, student_id, PrivacyKind.ERASURE)


@login_required
@require_POST
def take_back_access(request: HttpRequest, student_id: int) -> HttpResponse:
    """Takes a request for an access export back."""
    return _take_back(request, student_id, PrivacyKind.ACCESS)


def _approve(request: HttpRequest, student_id: int, kind: PrivacyKind) -> HttpResponse:
    actor, now = user_of(request), clock.now()
    require_admin(actor)
    student, _ = find_own_data(actor, student_id, now=now)
    question = _question(request, student, kind)
    return confirmed(
        request,
        question,
        lambda: approve_request(actor=actor, student_id=student.pk, kind=kind, now=now),
        done="Approved. The family gets an email.",
        to=question.back,
    )


def _question(request: HttpRequest, student: Student, kind: PrivacyKind) -> Question:
    name, back = student.full_name, reverse("own-data", args=[student.pk])
    asked = asked_about(student, now=clock.now())
    if kind == PrivacyKind.ACCESS:
        if asked.access is None:
            raise not_there()
        follows = [
            "It holds drafts, and the private remarks that instructors wrote for themselves. "
            "Whoever asked for it can download it for 14 days."
        ]
        title = f"Approve the access export of {name}?"
        return Question(title, follows, "Approve the access export", back)
    if asked.erasure is None:
        raise not_there()
    goes = max(erased_on(asked.erasure), clock.now())
    follows = [
        f"The data is erased after {spoken(goes, user_of(request).zone)}. "
        "Until then the request can be taken back; afterwards nobody can bring anything back.",
        "Statements of hours and term accounts stay, without a name.",
    ]
    return Question(f"Approve the erasure of {name}?", follows, "Approve the erasure", back)


def _take_back(request: HttpRequest, student_id: int, kind: PrivacyKind) -> HttpResponse:
    actor, now = user_of(request), clock.now()
    write(
        lambda: take_back_request(actor=actor, student_id=student_id, kind=kind, now=now), now=now
    )
    messages.success(request, "The request has been taken back.")
    return redirect("own-data", student_id=student_id)
