"""People, offerings and terms that an answer names, each by id and name.

Bookings and meetings are named by id alone.
"""

from operator import attrgetter
from typing import Any, NamedTuple

from rest_framework import serializers

from accounts.models import Instructor, Student, User
from bookings import clock
from bookings.access import name_for
from bookings.api.output import Output, Utc
from bookings.domain.vocabulary import Kind, Standing


class Known(NamedTuple):
    """Somebody by id, and by the name that this reader knows them by."""

    pk: int
    name: str


def student_known(student: Student, instructor: Instructor, reader: User) -> Known:
    """A student of this instructor, who knows a minor by the first name.

    The family and admins know the whole name.
    """
    is_taught = instructor.user_id == reader.pk
    name = name_for(reader, student, clock.now()) if is_taught else student.full_name
    return Known(student.pk, name)


class Named(Output):
    """Somebody or something by id and name."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()

    def __init__(self, *args: Any, called: str = "name", **options: Any) -> None:
        self._called = attrgetter(called)
        super().__init__(*args, **options)

    def get_name(self, row: Any) -> str:
        return str(self._called(row))


def an_instructor(**options: Any) -> Named:
    """An instructor. Needs `user` joined."""
    return Named(called="user.name", **options)


def a_student(**options: Any) -> Named:
    """A student by their whole name, for their family and admins."""
    return Named(called="full_name", **options)


class OfferingNamed(Named):
    """An offering by id and name, and what kind of meeting it is."""

    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind])


class BookingAhead(Output):
    """A booking that ends with something else, or stands in its way."""

    id = serializers.IntegerField()
    starts_at = Utc()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])
