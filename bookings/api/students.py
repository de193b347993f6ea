"""Students as the school has them: one who leaves."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access
from bookings.api.calls import Call, body, me
from bookings.api.door import Answer, write
from bookings.api.fields import Line, Strict, utc
from bookings.api.operation import operation
from bookings.api.references import BookingAhead, Named
from bookings.operations.closing import leave_school


class LeavingForm(Strict):
    """`reason` is a sentence for everybody in what stands in the way: with it that ends, without it the request is refused."""

    reason = Line(max_length=200, required=False)


class LeftShape(serializers.Serializer):
    """Who learns here no more, and what ended with it: bookings as they stood before, weekly places by id."""

    student = Named()
    bookings = BookingAhead(many=True)
    weekly_places = serializers.ListField(child=serializers.IntegerField())


class LeavingSchool(Call):
    """A student learns here no more. What lies ahead is listed by 409 `has-bookings`, or ended where `reason` says why."""

    bodies = {"POST"}

    @operation("leave_school", refused=(403, 409), request=LeavingForm, responses=LeftShape)
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, LeavingForm), me(request)

        def act(now: datetime) -> Answer:
            access.require_admin(user)
            student = access.access_student(user, pk, now=now)
            ended = leave_school(actor=user, student=student, why=sent.get("reason"), now=now)
            shown: dict[str, Any] = {
                "student": {"id": student.pk, "name": student.full_name},
                "bookings": [
                    {
                        "id": booking.pk,
                        "starts_at": utc(booking.starts_at),
                        "standing": booking.standing,
                    }
                    for booking in ended.bookings
                ],
                "weekly_places": [place.pk for place in ended.weekly],
            }
            return Answer(200, shown)

        return write(request, act)
