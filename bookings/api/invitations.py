"""Invitations: who is asked to join, and as what. The secret goes to the invited person alone."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, Welcome
from bookings import access, clock
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Id, Line, Search, Strict
from bookings.api.named import named_student
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import a_student
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.invitations import invite, withdraw_invitation
from bookings.queries.people import one_invitation, open_invitations

ROLES = ("student", "guardian", "instructor", "admin")


class InvitationForm(Strict):
    """`student` is for a student or a guardian: who gets the account, or their child."""

    name = Line(max_length=120)
    email = serializers.EmailField(max_length=254)
    role = serializers.ChoiceField(choices=ROLES)
    student = Id(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("student" in attrs) != (attrs["role"] in ("student", "guardian")):
            said = "Name the student for a student or a guardian, and for nobody else."
            raise ValidationError({"student": [said]})
        return attrs


class InvitationOutput(Output):
    """One that is open until `good_until`."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    email = serializers.EmailField()
    role = serializers.ChoiceField(choices=ROLES)
    student = a_student(allow_null=True)
    sent_at = Utc()
    good_until = Utc()

    def get_role(self, row: Welcome) -> str:
        if row.as_admin:
            return "admin"
        if row.as_instructor:
            return "instructor"
        return "student" if row.student_id is not None else "guardian"

    def get_student(self, row: Welcome) -> Student | None:
        return row.student or row.guardian_of


class InvitationsAsked(PageAsked):
    """Those in whose name or address each word of `q` is found, to one role, about one student."""

    order = ("-id",)
    in_order = "The latest comes first."
    q = Search(required=False)
    role = serializers.ChoiceField(choices=ROLES, required=False)
    student = AskedId(required=False)


class Invitations(ApiView):
    """For admins. A new invitation replaces an open one to the same person in the same role."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "invitations",
        scope=PEOPLE,
        refused=(403,),
        parameters=[InvitationsAsked],
        responses=paged(InvitationOutput),
    )
    def get(self, request: Request) -> Response:
        wanted = asked(request, InvitationsAsked)
        rows = open_invitations(
            me(request),
            wanted.get("q", ""),
            role=wanted.get("role"),
            student=wanted.get("student"),
            now=clock.now(),
        )
        return page(request, InvitationsAsked, rows, InvitationOutput.of_all)

    @operation(
        "invite",
        scope=PEOPLE,
        refused=(403, 404, 409),
        request=InvitationForm,
        responses={201: InvitationOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, InvitationForm), me(request)

        def act(now: datetime) -> Result:
            access.require_admin(user)
            role, of = sent["role"], None
            if "student" in sent:
                of = named_student(user, sent, now=now)
            invited = invite(
                actor=user,
                email=sent["email"],
                name=sent["name"],
                as_admin=role == "admin",
                as_instructor=role == "instructor",
                student=of if role == "student" else None,
                guardian_of=of if role == "guardian" else None,
                now=now,
            )
            return Result(201, InvitationOutput.of(invited))

        return answered(request, act)


class OneInvitation(ApiView):
    """One that may be withdrawn as long as it is open."""

    @operation("withdraw_invitation", scope=PEOPLE, refused=(403, 409), responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            user = me(request)
            withdraw_invitation(actor=user, welcome=one_invitation(user, pk), now=now)
            return Result(204)

        return answered(request, act)
