"""Students as they are asked for, noted and shown."""

from datetime import date
from typing import Any

from rest_framework import serializers

from bookings import clock
from bookings.api.fields import AskedFlag, AskedId, AskedWhole, Id, Line, Search, Strict, Whole
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.api.references import Known, Named, an_instructor
from bookings.api.time_fields import Day, Zone
from bookings.domain.due import Why
from bookings.domain.families import is_child
from bookings.models import Assessment
from bookings.operations.new_students import MOST_GUARDIANS
from bookings.queries.my_students import Entry


class StudentsAsked(PageAsked):
    """Students of whom each word of `q` is found: in their name; for an admin also in their
    address and in the names and addresses of their guardians. Of one level; minors or adults;
    without a next meeting, or with one; due a review, or not.

    `instructor` is whose students are listed: the reader's own, and for an admin everybody's unless
    it names one. `active=false` lists those who have left, for admins.
    """

    order = ("id",)
    in_order = "By id; with `due=true` the most pressing comes first."
    narrows = {"level": "level"}
    q = Search(required=False)
    level = AskedWhole(min_value=1, max_value=10, required=False)
    instructor = AskedId(required=False)
    active = AskedFlag(required=False, default=True)
    minor = AskedFlag(required=False)
    without_next_meeting = AskedFlag(required=False)
    due = AskedFlag(required=False)


class LastNote(Output):
    """The student's latest released assessment: when and by whom, not what it says."""

    heard_on = serializers.DateField()
    author = an_instructor()


class StudentOutput(Output):
    """A student, and where they stand.

    Lessons and meetings are those with the instructor whose list it is; in a list of everybody's
    students, those with anybody. `obstacle` and `follow_up_on` are those of the latest released
    assessment that the reader may read; admins read the words of their own alone, and
    `obstacle_open` tells whether there is one. `due` says why a review is due, the most pressing
    reason first, and `reasons` says the same in sentences. One who is not `active` has left.
    `adult_on`, null for a known adult, and `account`, as in people/, are for admins.
    """

    id = serializers.IntegerField(source="student.pk")
    name = serializers.CharField()
    active = serializers.BooleanField(source="student.is_active")
    minor = serializers.BooleanField()
    adult_on = serializers.DateField(allow_null=True)
    account = serializers.IntegerField(allow_null=True)
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    time_zone = serializers.CharField(source="student.zone")
    regular_instructor = Named(allow_null=True)
    last_meeting_at = Utc(allow_null=True, source="last_at")
    next_meeting_at = Utc(allow_null=True, source="next_at")
    next_booking = serializers.IntegerField(allow_null=True, source="next_booking_id")
    last_note = LastNote(allow_null=True)
    obstacle = serializers.CharField(allow_blank=True)
    obstacle_open = serializers.BooleanField(source="has_obstacle")
    follow_up_on = serializers.DateField(allow_null=True)
    due = serializers.ListField(child=serializers.ChoiceField(choices=[why.value for why in Why]))
    reasons = serializers.ListField(child=serializers.CharField())

    def get_regular_instructor(self, row: Entry) -> Known | None:
        found = row.student.regular_instructor
        return Known(found.pk, found.user.name) if found else None

    def get_minor(self, row: Entry) -> bool:
        return is_child(row.student, clock.now())

    def get_adult_on(self, row: Entry) -> date | None:
        return row.student.adult_on if self.reader.is_staff else None

    def get_account(self, row: Entry) -> int | None:
        return row.student.user_id if self.reader.is_staff else None

    def get_last_note(self, row: Entry) -> Assessment | None:
        return row.latest

    def get_due(self, row: Entry) -> list[str]:
        return [why.value for why in row.due.why] if row.due else []

    def get_reasons(self, row: Entry) -> list[str]:
        return list(row.due.sentences) if row.due else []


class GuardianForm(Strict):
    """Somebody who is invited to answer for the student."""

    name = Line(max_length=120)
    email = serializers.EmailField(max_length=254)


class StudentForm(Strict):
    """A student, with an account or without.

    `adult_on` is the date on which a minor comes of age, null for a known adult. `email` invites
    an adult to an account of their own. A minor has `guardians` instead, and each is invited.
    """

    name = Line(max_length=120)
    level = Whole(min_value=1, max_value=10)
    unit = Whole(min_value=1, max_value=99, required=False, default=1)
    time_zone = Zone()
    adult_on = Day(allow_null=True)
    regular_instructor = Id(allow_null=True, required=False)
    email = serializers.EmailField(max_length=254, required=False)
    guardians: Any = serializers.ListSerializer(
        child=GuardianForm(), max_length=MOST_GUARDIANS, required=False
    )


class StudentChange(Strict):
    """What is to change. Name and zone of a student with an account are that account's.

    `regular_instructor` is the instructor the student belongs to, one who teaches now; null for
    nobody.
    """

    name = Line(max_length=120, required=False)
    level = Whole(min_value=1, max_value=10, required=False)
    unit = Whole(min_value=1, max_value=99, required=False)
    time_zone = Zone(required=False)
    adult_on = Day(allow_null=True, required=False)
    regular_instructor = Id(allow_null=True, required=False)
