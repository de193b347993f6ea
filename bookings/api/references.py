"""What an answer names beside itself: people, offerings and terms with their names, always alike. Bookings and meetings go by id."""

from typing import Any

from rest_framework import serializers

from accounts.models import Instructor
from bookings.domain.vocabulary import Kind, Standing
from bookings.models import Offering


class Named(serializers.Serializer):
    """Somebody or something by id and name."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class OfferingNamed(Named):
    """An offering by id and name, and what kind of meeting it is."""

    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind])


class BookingAhead(serializers.Serializer):
    """A booking that ends with something else, or stands in its way."""

    id = serializers.IntegerField()
    starts_at = serializers.DateTimeField()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])


def shown_instructor(instructor: Instructor) -> dict[str, Any]:
    """Needs `user` joined."""
    return {"id": instructor.pk, "name": instructor.user.name}


def shown_offering(offering: Offering) -> dict[str, Any]:
    return {"id": offering.pk, "name": offering.name, "kind": offering.kind}
