"""Questions to a substitute: whether they take lessons outside their hours or beyond their load."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.door import Result, answered
from bookings.api.fields import Strict, TrueOrFalse
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import ByStartAsked, page
from bookings.api.references import Known, Named, OfferingNamed, student_known
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.cover_questions import answer_cover_question
from bookings.queries.cover_questions import AskedLesson, with_lessons


class CoverAnswerForm(Strict):
    """The substitute's own yes or no."""

    says_yes = TrueOrFalse()


class CoverQuestionOutput(Output):
    """A lesson that the reader is asked to teach as a substitute, at its own time."""

    id = serializers.IntegerField(source="question.pk")
    offering = OfferingNamed(source="booking.meeting.offering")
    student = Named()
    level = serializers.IntegerField(source="booking.student.level")
    starts_at = Utc(source="question.starts_at")
    ends_at = Utc(source="booking.ends_at")
    asked_at = Utc(source="question.asked_at")

    def get_student(self, row: AskedLesson) -> Known:
        booking = row.booking
        return student_known(booking.student, booking.meeting.instructor, self.reader)


class CoverAnswerOutput(Output):
    """A question with its answer."""

    id = serializers.IntegerField()
    starts_at = Utc()
    asked_at = Utc()
    says_yes = serializers.BooleanField()
    answered_at = Utc()


class CoverQuestionsAsked(ByStartAsked):
    """Questions about lessons that start in [from, to)."""


class CoverQuestions(ApiView):
    """The open questions to the reader."""

    queries = {"GET"}

    @operation(
        "cover_questions",
        scope=PEOPLE,
        refused=(403,),
        parameters=[CoverQuestionsAsked],
        responses=paged(CoverQuestionOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, CoverQuestionsAsked), me(request)
        rows = access.cover_questions_of(user, now=clock.now())
        return page(
            request,
            CoverQuestionsAsked,
            CoverQuestionsAsked.narrowed(rows, wanted, user),
            lambda found: CoverQuestionOutput.of_all(with_lessons(found), reader=user),
        )


class AnsweringCoverQuestion(ApiView):
    """Answers with the substitute's own yes or no; nobody answers for them."""

    bodies = {"POST"}

    @operation(
        "answer_cover_question",
        scope=PEOPLE,
        refused=(409,),
        request=CoverAnswerForm,
        responses=CoverAnswerOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, CoverAnswerForm), me(request)

        def act(now: datetime) -> Result:
            question = access.access_cover_question(user, pk)
            says_yes = sent["says_yes"]
            done = answer_cover_question(actor=user, question=question, says_yes=says_yes, now=now)
            return Result(200, CoverAnswerOutput.of(done))

        return answered(request, act)
