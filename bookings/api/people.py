"""Signing in and out, and who one is."""

from datetime import datetime
from typing import Any

from allauth.account.signals import password_changed, password_reset, password_set
from django.contrib.auth import authenticate
from django.dispatch import receiver
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema_field
from knox.models import AuthToken
from rest_framework import serializers
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from accounts import guesses
from accounts.devices import account_of
from accounts.models import Instructor, Student, User
from accounts.second_factor import codes_of, is_required
from bookings import access, clock, door
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict, Text
from bookings.api.operation import operation
from bookings.api.output import Output, utc
from bookings.api.references import an_instructor
from bookings.api.throttles import SignInRate
from bookings.api.time_fields import Zone
from bookings.api.views import ApiView, Bearer, body, me
from bookings.domain.addresses import known_as
from bookings.domain.errors import Refused
from bookings.domain.scopes import PEOPLE
from bookings.operations.people import change_me, lock_me
from bookings.operations.tokens import end_all_tokens, make_token

ROLES = ["student", "guardian", "instructor", "admin"]
_WRONG = "Check the address, the password and, where you use a second factor, its code."


@extend_schema_field({"type": "string", "format": "email", "maxLength": 254})
class Email(Line):
    """An address of an account. Whether it is well formed is not judged: it is known or not."""


class SignIn(Strict):
    """`code` is the second factor's, where one is set up."""

    email = Email(max_length=254)
    password = Text(max_length=200, trim_whitespace=False)
    code = Line(max_length=40, required=False)


class Token(serializers.Serializer):
    """Send it as Authorization: Bearer. It is shown once."""

    token = serializers.CharField()
    expires_at = serializers.DateTimeField()


class Tokens(ApiView):
    """Signs in.

    An unknown address and a wrong password have the same answer. Wrong ones are slowed: after 429
    wait a minute. A client that sends an earlier token as Authorization is counted on its own, so
    no stranger can use up its attempts.
    """

    bodies = {"POST"}
    permission_classes = [AllowAny]
    authentication_classes: list[Any] = []
    throttle_classes = [SignInRate]

    @operation(
        "sign_in",
        scope=PEOPLE,
        refused=(401, 403, 409),
        request=SignIn,
        responses={201: Token},
        auth=[],
    )
    def post(self, request: Request) -> Response:
        sent = body(request, SignIn)
        email = known_as(sent["email"])
        device = _earlier_token(request, email)
        with guesses.at_password(request._request, email, device=device) as guess:
            user = authenticate(request._request, email=email, password=sent["password"])
            guess.is_right = isinstance(user, User)
        code = sent.get("code", "")
        if not isinstance(user, User) or not _second_factor(request, user, code, device):
            raise Refused("not-signed-in", _WRONG)
        kept, token = door.write(lambda: make_token(user, now=clock.machine()), now=clock.now())
        return Response({"token": token, "expires_at": utc(kept.expiry)}, status=201)


def _earlier_token(request: Request, email: str) -> str | None:
    """The digest of a good token of that account, if the request brings one.

    Such a device has signed in before.
    """
    try:
        found = Bearer().authenticate(request)
    except AuthenticationFailed:
        return None
    # A service token is no device of its maker's.
    if found is None or not isinstance(found[1], AuthToken):
        return None
    if account_of(found[0].email) != account_of(email):
        return None
    return str(found[1].digest)


def _second_factor(request: Request, user: User, code: str, device: str | None) -> bool:
    """Whether the code is right; true without a second factor.

    Refused("not-allowed") where the account needs a second factor and has none.
    """
    factors = codes_of(user)
    if factors:
        with guesses.at_code(request._request, user.email, device=device) as guess:
            guess.is_right = any(factor.validate_code(code) for factor in factors)
        return guess.is_right
    if is_required(user):
        raise Refused(
            "not-allowed",
            "Instructors and admins need a second factor: set one up on the pages, "
            "then sign in with its code.",
        )
    return True


@receiver([password_changed, password_reset, password_set])
def end_tokens(user: User, **_: Any) -> None:
    """Whoever held a token before the password changed signs in again."""
    door.write(lambda: end_all_tokens(user), now=clock.now())


class CurrentToken(ApiView):
    """The token that this request came with."""

    @operation("sign_out", scope=PEOPLE, refused=(404,), responses={204: None})
    def delete(self, request: Request) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            if not isinstance(request.auth, AuthToken):
                raise Refused(
                    "not-found", "This request came with a page's session, not with a token."
                )
            request.auth.delete()
            return Result(204)

        return answered(request, act)


class OwnStudent(Output):
    """A student one may act for."""

    id = serializers.IntegerField()
    name = serializers.CharField(source="full_name")
    level = serializers.IntegerField()
    unit = serializers.IntegerField()
    time_zone = serializers.CharField(source="zone")


class Me(Output):
    """Who is signed in. `instructor` is oneself where an instructor is asked for."""

    id = serializers.IntegerField()
    email = serializers.EmailField()
    name = serializers.CharField()
    time_zone = serializers.CharField(source="zone")
    roles = serializers.ListField(child=serializers.ChoiceField(choices=ROLES))
    instructor = an_instructor(allow_null=True)
    students = OwnStudent(many=True)

    def get_roles(self, user: User) -> list[str]:
        students = self.context["students"]
        held = {
            "student": any(student.user_id == user.pk for student in students),
            "guardian": any(student.user_id != user.pk for student in students),
            "instructor": self.context["instructor"] is not None,
            "admin": user.is_staff,
        }
        return [role for role, is_held in held.items() if is_held]

    def get_instructor(self, user: User) -> Instructor | None:
        instructor: Instructor | None = self.context["instructor"]
        return instructor

    def get_students(self, user: User) -> list[Student]:
        return list(self.context["students"])


class MeChange(Strict):
    """What one may change about oneself."""

    name = Line(max_length=120, required=False)
    time_zone = Zone(required=False)


class MyAccount(ApiView):
    """Oneself."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("me", scope=PEOPLE, headers=("ETag",), responses=Me)
    def get(self, request: Request) -> Response:
        shown = shown_me(me(request))
        return Response(shown, headers=_tag(shown))

    @operation("change_me", scope=PEOPLE, headers=("ETag",), request=MeChange, responses=Me)
    def patch(self, request: Request) -> HttpResponseBase:
        sent = body(request, MeChange)

        def act(now: datetime) -> Result:
            _, current = lock_me(me(request), now=now)
            names(request, _tag(shown_me(current))["ETag"])
            shown = shown_me(change_me(actor=current, now=now, **sent))
            return Result(200, shown, _tag(shown))

        return answered(request, act)


def _tag(shown: dict[str, Any]) -> dict[str, str]:
    # Made of all that is shown, because the school changes names, roles and levels elsewhere too.
    return {"ETag": etag_of("me", shown["id"], shown)}


def shown_me(user: User) -> dict[str, Any]:
    """Oneself, with the students one may act for."""
    students = access.own_students(user, now=clock.now())
    return Me.of(user, students=students, instructor=access.instructor_of(user))
