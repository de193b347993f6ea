"""What a person is at the school, and how much waits for their answer: in one query."""

from dataclasses import dataclass

from django.db.models import (
    BooleanField,
    Count,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce

from accounts.models import Guardianship, Instructor, Student, User
from bookings.models import EmailTrouble, MoveRequest


@dataclass(frozen=True, slots=True)
class Roles:
    """Whether somebody teaches now, is an admin, and learns or is a guardian.

    `move_requests` is the number of requests to move that wait for their answer. `email_trouble` is
    why no email reaches their address; empty where it does.
    """

    teaches: bool
    is_admin: bool
    has_family: bool
    move_requests: int
    email_trouble: str = ""

    @property
    def runs_meetings(self) -> bool:
        """Whether there may be meetings of theirs to run."""
        return self.teaches or self.is_admin


def roles_of(user: User) -> Roles:
    """One query; requests are counted as `access.move_requests_of` lists them."""
    teaching = Instructor.objects.teaching().filter(user=OuterRef("pk"))
    open_ones = MoveRequest.objects.unanswered().order_by()
    if not user.is_staff:
        theirs = Q(booking__meeting__instructor__user=user)
        open_ones = open_ones.filter(theirs, booking__meeting__instructor__is_active=True)
    count = open_ones.values("state").annotate(count=Count("pk")).values("count")
    learning = Student.objects.filter(user=OuterRef("pk"))
    guarding = Guardianship.objects.answering().filter(guardian=OuterRef("pk"))
    trouble = EmailTrouble.objects.marked().filter(owner=OuterRef("pk"))
    row = (
        User.objects.filter(pk=user.pk)
        .order_by()
        .values_list(
            Exists(teaching),
            F("is_staff"),
            ExpressionWrapper(
                Q(Exists(learning)) | Q(Exists(guarding)), output_field=BooleanField()
            ),
            Coalesce(Subquery(count), 0),
            Coalesce(Subquery(trouble.values("why")[:1]), Value("")),
        )
        .first()
    )
    return Roles(*row) if row else Roles(False, False, False, 0)
