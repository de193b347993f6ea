"""Who of the school has read what of a student's data."""

from typing import Any

from django.db.models import Count, F, Min, QuerySet, Value
from django.db.models.functions import TruncDate

from accounts.models import Student
from bookings.domain.vocabulary import NoteState
from bookings.models import AssessmentReading, DataReading
from bookings.queries.notes import SCHOOLS_READERS

NOTE = "note"
"""Stands beside the words of DataRead for released notes."""


def readings_by_school(student: Student) -> QuerySet[Any]:
    """One row a reader, kind and date (UTC), the latest first, as dicts: one query.

    `name` is the reader's, `relation` theirs to the student, `what` a word of DataRead or NOTE,
    `at` the first time on that date, and `number` how many notes or intakes.
    """
    data = DataReading.objects.filter(student=student).order_by()
    notes = AssessmentReading.objects.filter(
        assessment__student=student,
        assessment__state=NoteState.RELEASED,
        relation__in=SCHOOLS_READERS,
    ).order_by()
    rows = _by_day(data.annotate(kind=F("what"), day=F("on"), when=F("first_at"), of=F("booking")))
    more = notes.annotate(
        kind=Value(NOTE), day=TruncDate("read_at"), when=F("read_at"), of=F("assessment")
    )
    return rows.union(_by_day(more), all=True).order_by("-at", "name")


def _by_day(rows: QuerySet[Any]) -> QuerySet[Any]:
    grouped = rows.values("relation", "kind", "day", "reader_id", name=F("reader__name"))
    return grouped.annotate(at=Min("when"), number=Count("of", distinct=True))
