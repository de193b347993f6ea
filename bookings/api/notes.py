"""Notes for their author. No answer with the text of one is stored."""

from dataclasses import replace
from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.named import named_meeting, pointing_at
from bookings.api.note_serializers import (
    AssessmentsAsked,
    NoteChange,
    NoteForm,
    NoteOutput,
    ReleaseForm,
    note_text,
)
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment
from bookings.operations.note_text import NoteText, text_of
from bookings.operations.notes import (
    lock_note,
    release_assessment,
    rewrite_assessment,
    write_assessment,
)
from bookings.queries.notes import written_by


class Assessments(ApiView):
    """The assessments one has written."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "assessments",
        scope=PEOPLE,
        parameters=[AssessmentsAsked],
        refused=(403,),
        responses=paged(NoteOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, AssessmentsAsked), me(request)
        rows = AssessmentsAsked.narrowed(written_by(access.access_instructor(user)), wanted, user)
        if "standing" in wanted:
            rows = rows.filter(state=NoteState[wanted["standing"]])
        return page(request, AssessmentsAsked, rows, NoteOutput.of_all)

    @operation(
        "write_assessment",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=NoteForm,
        responses={201: NoteOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, NoteForm), me(request)

        def act(now: datetime) -> Result:
            author = access.access_instructor(user)
            meeting = named_meeting(user, sent, now=now) if "meeting" in sent else None
            with pointing_at("student"):
                note = write_assessment(
                    actor=user,
                    author=author,
                    student_id=sent["student"],
                    text=NoteText(**note_text(sent)),
                    meeting=meeting,
                    now=now,
                )
            return note_result(note, status=201)

        return answered(request, act)


class OneAssessment(ApiView):
    """An assessment for its author.

    A draft changes in place. Changing a released one begins a new version.
    """

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("assessment", scope=PEOPLE, headers=("ETag",), responses=NoteOutput)
    def get(self, request: Request, pk: int) -> Response:
        note = access.access_assessment(me(request), pk)
        return Response(NoteOutput.of(note), headers={"ETag": _tag(note)})

    @operation(
        "rewrite_assessment",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=NoteChange,
        responses=NoteOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, NoteChange), me(request)

        def act(now: datetime) -> Result:
            note = locked_note(request, pk)
            text = replace(text_of(note), **note_text(sent))
            return note_result(rewrite_assessment(actor=user, note=note, text=text, now=now))

        return answered(request, act)


class Releasing(ApiView):
    """Gives the note to its student; their upcoming bookings carry it from now on.

    Over another instructor's latest note it is refused with "other-author", which names that note:
    send its id in `over` once your reader has been asked.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "release_assessment",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=ReleaseForm,
        responses=NoteOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, ReleaseForm)

        def act(now: datetime) -> Result:
            note = locked_note(request, pk)
            return note_result(release_assessment(actor=me(request), note=note, now=now, **sent))

        return answered(request, act)


def locked_note(request: Request, pk: int) -> Assessment:
    """The caller's note, locked; Refused("stale") where If-Match names another state."""
    note = lock_note(author=me(request), note_id=pk)
    names(request, _tag(note))
    return note


def note_result(note: Assessment, *, status: int = 200) -> Result:
    """A note just written, as its author sees it. It is never stored."""
    headers = {**location("assessments", note.pk), "ETag": _tag(note)}
    return Result(status, NoteOutput.of(note), headers, kept=False)


def _tag(note: Assessment) -> str:
    # A draft changes in place, so its version would not tell two of its states apart.
    says = [str(getattr(note, name)) for name in (*NoteText.__dataclass_fields__, "state")]
    return etag_of("assessment", note.pk, [*says, note.student.level, note.student.unit])
