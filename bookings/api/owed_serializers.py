"""Owed lessons and the account of a term, as they are sent and shown."""

from typing import Any

from rest_framework import serializers

from bookings.api.fields import AskedFlag, AskedId, Id, Line, Search, Strict
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.api.references import Named, OfferingNamed, a_student
from bookings.api.time_fields import Day, InstantOrDay
from bookings.domain.accounts import Chain, Lesson, Root
from bookings.domain.vocabulary import LessonOutcome, OwedCause, OwedClosed
from bookings.models import OwedLesson
from bookings.models.owed import LONGEST_REASON
from bookings.queries.accounts import TermAccount


class OwedAsked(PageAsked):
    """Owed since an instant in [from, to), to one student, in one term, for one cause; those that
    are still owed, or those that are not.
    """

    wire = {"since": "from", "until": "to"}
    order = ("use_by", "id")
    in_order = "By the date by which the make-up lesson begins."
    narrows = {
        "student": "student",
        "term": "term",
        "cause": "cause",
        "since": "owed_at__gte",
        "until": "owed_at__lt",
    }
    student = AskedId(required=False)
    term = AskedId(required=False)
    cause = serializers.ChoiceField(choices=[cause.value for cause in OwedCause], required=False)
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)
    still_owed = AskedFlag(required=False)


class OwedReason(Strict):
    """Why an admin decides so. The family reads it."""

    reason = Line(max_length=LONGEST_REASON)


class ExtendingForm(OwedReason):
    """Until when the make-up lesson may begin, on the student's clock."""

    use_by = Day()


class CarryingForm(ExtendingForm):
    """To which term an owed lesson is carried."""

    term = Id()


class CarriedInForm(CarryingForm):
    """A lesson that the school owes from before, for the account of a term."""

    student = Id()
    offering = Id()


class OwedLessonOutput(Output):
    """A lesson that the school owes. Its make-up lesson begins by `use_by`, on the student's clock.

    `booking` is the lesson that was not given, null where there was none; `make_up` is the booking
    that settles it. `closed_how` says how it ended without one. `reason` is an admin's.
    """

    id = serializers.IntegerField()
    student = a_student()
    offering = OfferingNamed()
    minutes = serializers.IntegerField()
    term = Named(allow_null=True)
    booking = serializers.IntegerField(source="booking_id", allow_null=True)
    cause = serializers.ChoiceField(choices=[cause.value for cause in OwedCause])
    use_by = serializers.DateField()
    owed_at = Utc()
    make_up = serializers.IntegerField(allow_null=True)
    closed_at = Utc(allow_null=True)
    closed_how = serializers.ChoiceField(choices=["", *(how.value for how in OwedClosed)])
    reason = serializers.CharField()

    def get_make_up(self, row: OwedLesson) -> int | None:
        return next((booking.pk for booking in row.make_ups.all()), None)


class AccountAsked(PageAsked):
    """Students of whom each word of `q` is found, or one student."""

    order = ("id",)
    in_order = "By the student's id."
    narrows = {"student": "id"}
    q = Search(required=False)
    student = AskedId(required=False)


class AccountLinkOutput(Output):
    """One step of a lesson: a booking, or what was owed for it."""

    booking = serializers.IntegerField(allow_null=True)
    owed_lesson = serializers.IntegerField(allow_null=True)
    starts_at = Utc(allow_null=True)

    def get_booking(self, link: Any) -> int | None:
        return link.id if isinstance(link, Lesson) else None

    def get_owed_lesson(self, link: Any) -> int | None:
        return None if isinstance(link, Lesson) else link.id

    def get_starts_at(self, link: Any) -> Any:
        return link.starts_at if isinstance(link, Lesson) else None


class AccountLessonOutput(Output):
    """One lesson of the account, counted once: `outcome` is that of the last of its `links`."""

    counted_as = serializers.ChoiceField(choices=[root.value for root in Root], source="root")
    outcome = serializers.ChoiceField(
        choices=[one.value for one in LessonOutcome if one is not LessonOutcome.NOTHING]
    )
    reason = serializers.CharField(source="left.why")
    links = AccountLinkOutput(many=True)


class AccountOutput(Output):
    """A student's account of a term.

    `promised` + `carried_in` + `extra` = `given` + `forfeited` + `lapsed` + `owed` + `to_come` +
    `unmarked` + `carried_out`.
    """

    student = a_student()
    term = Named()
    promised = serializers.IntegerField(source="account.promised")
    carried_in = serializers.IntegerField(source="account.carried_in")
    extra = serializers.IntegerField(source="account.extra")
    given = serializers.IntegerField()
    forfeited = serializers.IntegerField()
    lapsed = serializers.IntegerField()
    owed = serializers.IntegerField()
    to_come = serializers.IntegerField()
    unmarked = serializers.IntegerField()
    carried_out = serializers.IntegerField()
    counted_lessons = AccountLessonOutput(many=True)

    def get_given(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.GIVEN]

    def get_forfeited(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.FORFEITED]

    def get_lapsed(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.LAPSED]

    def get_owed(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.OWED]

    def get_to_come(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.TO_COME]

    def get_unmarked(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.UNMARKED]

    def get_carried_out(self, row: TermAccount) -> int:
        return row.account.counts[LessonOutcome.CARRIED_OUT]

    def get_counted_lessons(self, row: TermAccount) -> list[Chain]:
        return list(row.account.chains)
