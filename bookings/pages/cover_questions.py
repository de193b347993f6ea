"""What a substitute is asked: lessons outside their hours or beyond their load."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_POST

from bookings import clock
from bookings.access import access_cover_question, cover_questions_of, name_for
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.cover_questions import answer_cover_question
from bookings.pages.pagination import paginate
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.cover_questions import still_booked, with_lessons

PAGE_OF = 20


@login_required
@require_GET
def cover_questions(request: HttpRequest) -> HttpResponse:
    """The open questions to this instructor."""
    return _page(request)


@login_required
@require_POST
def answer(request: HttpRequest, question_id: int) -> HttpResponse:
    """The substitute's own yes or no to one lesson."""
    user, now = user_of(request), clock.now()
    question = access_cover_question(user, question_id)
    say = request.POST.get("say")
    says_yes = say == "yes"
    try:
        if say not in ("yes", "no"):
            raise Refused("invalid", "Choose yes or no.")
        write(
            lambda: answer_cover_question(
                actor=user, question=question, says_yes=says_yes, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return _page(request, refusal)
    said = "You said yes. You get an invitation if the school gives you this lesson."
    messages.success(request, said if says_yes else "You said no. Somebody else may be found.")
    return redirect("cover-questions")


def _page(request: HttpRequest, refusal: Refused | None = None) -> HttpResponse:
    user, now = user_of(request), clock.now()
    found = still_booked(cover_questions_of(user, now=now))
    shown = paginate(found, request.GET.get("page"), size=PAGE_OF)
    asked = [
        {
            "question": row.question,
            "booking": row.booking,
            "name": name_for(user, row.booking.student, now),
        }
        for row in with_lessons(shown.rows)
    ]
    context = {"asked": asked, "shown": shown, "refusal": refusal}
    return show(request, "levare/cover_questions.html", context)
