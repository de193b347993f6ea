"""The form of a cover: whose lessons, and in which hours."""

from typing import Any

from bookings.pages.forms.picking import PersonField
from bookings.pages.forms.stretches import StretchForm
from bookings.queries.picking import Whom
from bookings.queries.teaching import zone_of_hours


class CoverForm(StretchForm):
    """An instructor and whole days, or a stretch of hours, on that instructor's clock."""

    instructor = PersonField(Whom.INSTRUCTOR, label="Who cannot teach")
    field_order = ("instructor",)

    def asked(self) -> dict[str, Any]:
        """What a valid form asks for. Refused("clock-gap") for a time that does not exist."""
        instructor = self.cleaned_data["instructor"]
        starts_at, ends_at = self.stretch(zone_of_hours(instructor))
        return {"instructor": instructor.pk, "starts_at": starts_at, "ends_at": ends_at}
