"""Owed lessons: a family reads its own, an admin extends, settles and carries them."""

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import named_student, named_term, open_offering
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.owed_serializers import (
    CarriedInForm,
    CarryingForm,
    ExtendingForm,
    OwedAsked,
    OwedLessonOutput,
    OwedReason,
)
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import OwedLesson
from bookings.operations.owed import carry_in, carry_out, extend_owed, settle_owed


class OwedLessons(ApiView):
    """What the school owes to oneself and one's children; to everybody, for an admin."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "owed_lessons",
        scope=Scope.READ_ACCOUNTS,
        parameters=[OwedAsked],
        responses=paged(OwedLessonOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, OwedAsked), me(request)
        rows = access.owed_lessons_of(user, now=clock.now())
        if "still_owed" in wanted:
            rows = rows.still_owed() if wanted["still_owed"] else rows.no_longer_owed()
        rows = OwedAsked.narrowed(rows, wanted, user)
        return page(request, OwedAsked, rows, OwedLessonOutput.of_all)

    @operation(
        "carry_in_lesson",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 404, 409),
        request=CarriedInForm,
        responses={201: OwedLessonOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        user = me(request)
        access.require_admin(user)
        sent = body(request, CarriedInForm)

        def act(now: datetime) -> Result:
            owed = carry_in(
                actor=user,
                student=named_student(user, sent, now=now),
                offering=open_offering(sent["offering"]),
                term=named_term(sent["term"]),
                use_by=sent["use_by"],
                reason=sent["reason"],
                now=now,
            )
            return _result(owed, 201)

        return answered(request, act)


_decision = partial(
    operation,
    scope=PEOPLE,
    headers=("ETag", "Location"),
    refused=(403, 409),
    responses=OwedLessonOutput,
)


class _Deciding(ApiView):
    """What an admin decides about an owed lesson that they have read."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    def decided(
        self,
        request: Request,
        pk: int,
        decide: Callable[..., OwedLesson],
        values: Callable[[], Mapping[str, Any]],
    ) -> HttpResponseBase:
        user = me(request)
        access.require_admin(user)

        def act(now: datetime) -> Result:
            owed = access.access_owed_lesson(user, pk, now=now)
            version = version_asked(request, "owed-lesson", pk, owed.version)
            return _result(decide(actor=user, owed=owed, version=version, now=now, **values()))

        return answered(request, act)


class OneOwedLesson(ApiView):
    """One owed lesson."""

    @operation(
        "owed_lesson", scope=Scope.READ_ACCOUNTS, headers=("ETag",), responses=OwedLessonOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        owed = access.access_owed_lesson(me(request), pk, now=clock.now())
        return Response(OwedLessonOutput.of(owed), headers=_tag(owed))


class ExtendingOwedLesson(_Deciding):
    """Gives the family until another date. A lapsed one is owed again."""

    @_decision("extend_owed_lesson", request=ExtendingForm)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, ExtendingForm)
        return self.decided(request, pk, extend_owed, lambda: sent)


class SettlingOwedLesson(_Deciding):
    """Closes an owed lesson that was settled outside, such as by a refund."""

    @_decision("settle_owed_lesson", request=OwedReason)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, OwedReason)
        return self.decided(request, pk, settle_owed, lambda: sent)


class CarryingOwedLesson(_Deciding):
    """Carries an owed lesson to another term, and answers with the one that is owed there."""

    @_decision("carry_owed_lesson", request=CarryingForm)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, CarryingForm)
        return self.decided(
            request, pk, carry_out, lambda: {**sent, "term": named_term(sent["term"])}
        )


def _result(owed: OwedLesson, status: int = 200) -> Result:
    headers = {**location("owed-lessons", owed.pk), **_tag(owed)}
    return Result(status, OwedLessonOutput.of(owed), headers)


def _tag(owed: OwedLesson) -> dict[str, str]:
    return {"ETag": etag("owed-lesson", owed.pk, owed.version)}
