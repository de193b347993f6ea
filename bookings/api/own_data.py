"""A person's own data: exported, asked for whole, or erased."""

from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponse, HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock, door
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict, TrueOrFalse
from bookings.api.operation import operation
from bookings.api.output import Output, Utc
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import PrivacyKind
from bookings.models import PrivacyRequest
from bookings.operations.exporting import LONGEST_REASON, Export, export_all, export_person
from bookings.operations.privacy_requests import (
    approve,
    ask_for_access,
    ask_for_erasure,
    take_back,
)
from bookings.queries.privacy import Asked, asked_about, erased_on

_ARCHIVE = {(200, "application/zip"): OpenApiTypes.BINARY}
_KINDS = [kind.value for kind in PrivacyKind]


class ExportReasonForm(Strict):
    """Why an admin needs the export. The reason is kept, and only admins read it."""

    reason = Line(max_length=LONGEST_REASON)


class Exporting(ApiView):
    """What is stored of a student, as a ZIP archive with a JSON and a calendar file.

    It holds released notes and no private remarks. The student and a minor's guardians read it by
    GET; an admin by POST, with a reason, and without what hurts. It is logged, and stored nowhere.
    """

    bodies = {"POST"}

    @operation(
        "export", scope=PEOPLE, headers=("Content-Disposition",), refused=(422,), responses=_ARCHIVE
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        return _exported(request, pk, "")

    @operation(
        "export_for_admin",
        scope=PEOPLE,
        headers=("Content-Disposition",),
        request=ExportReasonForm,
        responses=_ARCHIVE,
    )
    def post(self, request: Request, pk: int) -> HttpResponse:
        return _exported(request, pk, body(request, ExportReasonForm)["reason"])


class AccessExport(ApiView):
    """All that is stored of a student, drafts and private remarks as well.

    For whoever asked for it, for 14 days after an admin has approved it.
    """

    @operation(
        "access_export",
        scope=PEOPLE,
        headers=("Content-Disposition",),
        refused=(409,),
        responses=_ARCHIVE,
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        now = clock.now()
        act = partial(export_all, actor=me(request), student_id=pk, now=now)
        return _archive(door.write(act, now=now))


def _exported(request: Request, pk: int, reason: str) -> HttpResponse:
    now = clock.now()
    act = partial(export_person, actor=me(request), student_id=pk, reason=reason, now=now)
    return _archive(door.write(act, now=now))


def _archive(made: Export) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{made.name}"'}
    return HttpResponse(made.content, content_type="application/zip", headers=headers)


class PrivacyRequestOutput(Output):
    """A request that is open. `approved_at` is null until an admin approves it."""

    asked_at = Utc()
    approved_at = Utc(allow_null=True)


class ErasureOutput(PrivacyRequestOutput):
    """`erased_after` is when the data goes, once it is approved."""

    erased_after = Utc()

    def get_erased_after(self, row: PrivacyRequest) -> datetime:
        return erased_on(row)


class PrivacyOutput(Output):
    """What has been asked about one student's data: null where nothing is open."""

    erasure = ErasureOutput(allow_null=True)
    access_export = PrivacyRequestOutput(allow_null=True, source="access")
    is_erased = serializers.BooleanField()


class PrivacyAsked(Strict):
    """What is asked for, an erasure or an access export; for an admin, with the `reason`.

    Where an erasure ends something that lies ahead, `end_bookings` has to be true. Otherwise 409
    `has-bookings` lists it.
    """

    wanted = serializers.ChoiceField(choices=_KINDS)
    reason = Line(max_length=LONGEST_REASON, required=False)
    end_bookings = TrueOrFalse(required=False, default=False)


class PrivacyAnswered(Strict):
    """Which request is meant: the open one for an erasure, or for an access export."""

    wanted = serializers.ChoiceField(choices=_KINDS)


class Privacy(ApiView):
    """What has been asked about a student's data, and asking: for the family and admins."""

    bodies = {"POST"}

    @operation("privacy", scope=PEOPLE, responses=PrivacyOutput)
    def get(self, request: Request, pk: int) -> Response:
        return Response(_shown(request, pk, clock.now()))

    @operation(
        "ask_about_privacy",
        scope=PEOPLE,
        refused=(409,),
        request=PrivacyAsked,
        responses={201: PrivacyOutput},
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, PrivacyAsked), me(request)

        def act(now: datetime) -> Result:
            ask = partial(
                ask_for_access, actor=user, student_id=pk, reason=sent.get("reason", ""), now=now
            )
            if sent["wanted"] == PrivacyKind.ERASURE:
                ask = partial(ask_for_erasure, end_bookings=sent["end_bookings"], **ask.keywords)
            ask()
            return Result(201, _shown(request, pk, now))

        return answered(request, act)


class ApprovingPrivacy(ApiView):
    """Approves what was asked, as an admin. An erasure cannot be undone once it is done."""

    bodies = {"POST"}

    @operation(
        "approve_privacy",
        scope=PEOPLE,
        refused=(403, 409),
        request=PrivacyAnswered,
        responses=PrivacyOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        kind, user = PrivacyKind(body(request, PrivacyAnswered)["wanted"]), me(request)

        def act(now: datetime) -> Result:
            approve(actor=user, student_id=pk, kind=kind, now=now)
            return Result(200, _shown(request, pk, now))

        return answered(request, act)


class TakingBackPrivacy(ApiView):
    """Takes back what was asked. The student learns here again; what ended stays so."""

    bodies = {"POST"}

    @operation("take_back_privacy", scope=PEOPLE, request=PrivacyAnswered, responses=PrivacyOutput)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        kind, user = PrivacyKind(body(request, PrivacyAnswered)["wanted"]), me(request)

        def act(now: datetime) -> Result:
            take_back(actor=user, student_id=pk, kind=kind, now=now)
            return Result(200, _shown(request, pk, now))

        return answered(request, act)


def _shown(request: Request, pk: int, now: datetime) -> dict[str, Any]:
    student, _ = access.find_own_data(me(request), pk, now=now)
    asked: Asked = asked_about(student, now=now)
    return PrivacyOutput.of(asked)
