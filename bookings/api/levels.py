"""The student's record after an assessment at another level: the instructor decides whether it
follows.
"""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request

from bookings.api.conditions import NEEDED
from bookings.api.door import Result, answered
from bookings.api.note_serializers import NoteOutput
from bookings.api.notes import locked_note, note_result
from bookings.api.operation import operation
from bookings.api.views import ApiView, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.levels import adopt_level


class AdoptingLevel(ApiView):
    """Moves the student's record to the level and unit of this assessment, the one released last.
    Nobody is emailed.
    """

    if_match = {"POST": NEEDED}

    @operation(
        "adopt_level",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=NoteOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:

        def act(now: datetime) -> Result:
            note = locked_note(request, pk)
            note.student = adopt_level(actor=me(request), note=note, now=now)
            return note_result(note)

        return answered(request, act)
