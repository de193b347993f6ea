"""The page that asks once before something is taken away."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from bookings.domain.errors import Refused


@dataclass(frozen=True, slots=True)
class Question:
    """The title, what follows from a yes, the button, and the address to go back to."""

    title: str
    follows: Sequence[str]
    button: str
    back: str
    hidden: dict[str, object] = field(default_factory=dict)


def confirmation_page(
    request: HttpRequest, question: Question, refusal: Refused | None = None
) -> HttpResponse:
    """The question; the answer is a POST to the same address."""
    return render(
        request,
        "levare/confirm.html",
        {"question": question, "refusal": refusal},
        status=refusal.status if refusal else 200,
    )
