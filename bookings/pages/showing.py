"""A page, with the HTTP status of what it says."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def show(
    request: HttpRequest, template: str, context: dict[str, Any], *, is_wrong: bool = False
) -> HttpResponse:
    """The page with the status of the `refusal` in its context.

    Without one it is 422 where the `form` in its context has errors, or `is_wrong` says that
    another form has; else 200.
    """
    refusal, form = context.get("refusal"), context.get("form")
    if refusal is not None:
        status = refusal.status
    else:
        status = 422 if is_wrong or (form is not None and form.errors) else 200
    return render(request, template, context, status=status)
