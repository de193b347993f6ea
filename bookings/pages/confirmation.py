"""The page that asks once before something is taken away."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.pages.showing import show


@dataclass(frozen=True, slots=True)
class Question:
    """The title, what follows from a yes, the button, and the address to go back to."""

    title: str
    follows: Sequence[str]
    button: str
    back: str
    hidden: dict[str, object] = field(default_factory=dict)


def confirmed(
    request: HttpRequest, question: Question, act: Callable[[], object], *, done: str, to: str
) -> HttpResponse:
    """GET asks the question. POST does `act`, says `done` and goes on to the address `to`.

    A refusal is said above the question.
    """
    if request.method == "GET":
        return confirmation_page(request, question)
    try:
        write(act, now=clock.now())
    except Refused as refusal:
        return confirmation_page(request, question, refusal)
    messages.success(request, done)
    return redirect(to)


def confirmation_page(
    request: HttpRequest, question: Question, refusal: Refused | None = None
) -> HttpResponse:
    """The question; the answer is a POST to the same address."""
    return show(request, "levare/confirm.html", {"question": question, "refusal": refusal})
