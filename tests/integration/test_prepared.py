"""Questions whose SQL is kept: the same answers as the queryset's own, whatever came before."""

from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.models import QuerySet, Value
from django.db.transaction import TransactionManagementError
from django.test.utils import CaptureQueriesContext

from bookings.models import Meeting
from bookings.models.prepared import prepared
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.django_db


def held(teachers: tuple[int, ...], since: datetime, but: int | None) -> QuerySet[Meeting, Any]:
    """A union that names one argument twice, and leaves one out where it is None."""
    rows = Meeting.objects.filter(instructor__in=teachers, starts_at__gte=since).order_by()
    rows = rows if but is None else rows.exclude(pk=but)
    return rows.values_list(Value("one"), "pk").union(
        rows.values_list(Value("two"), "pk"), all=True
    )


def test_a_kept_question_answers_as_the_queryset_does() -> None:
    """Other ids, another number of them, another instant, with and without the one left out: never
    an answer of before.
    """
    lesson = cast.make_offering()
    people = [cast.make_instructor(f"Teacher {i}", "UTC") for i in range(3)]
    starts = [at("2027-03-02T10:00Z"), at("2027-03-03T10:00Z")]
    meetings = [cast.make_meeting(lesson, person, start) for person in people for start in starts]
    ask = prepared(held)
    ids = tuple(person.pk for person in people)
    for arguments in [
        ((ids[0],), starts[0], None),
        ((ids[1],), starts[1], None),
        (ids, starts[0], None),
        (ids, starts[0], meetings[0].pk),
        (ids[1:], starts[0], meetings[0].pk),
        (ids[1:], starts[0], meetings[2].pk),
    ]:
        assert sorted(ask(*arguments)) == sorted(held(*arguments))
        assert len(ask(*arguments)) == len(set(ask(*arguments))) > 0


def test_instants_are_read_as_the_queryset_reads_them() -> None:
    """In UTC and marked so on PostgreSQL, whichever zone the clocks of the school show."""
    meeting = cast.make_meeting(
        cast.make_offering(), cast.make_instructor(), at("2027-03-02T10:00Z")
    )
    ask = prepared(lambda pk: Meeting.objects.filter(pk=pk).values_list("starts_at"))
    ((starts_at,),) = ask(meeting.pk)
    marked = starts_at if connection.vendor == "postgresql" else starts_at.replace(tzinfo=UTC)
    assert (marked, marked.tzinfo) == (meeting.starts_at, UTC)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_lock_is_taken_in_a_transaction_only() -> None:
    """What was written inside one is not sent outside, where the lock would end at once."""
    lock = prepared(lambda pk: Meeting.objects.filter(pk=pk).select_for_update().values_list("pk"))
    with transaction.atomic():
        assert lock(1) == []
    with pytest.raises(TransactionManagementError):
        lock(1)


def test_a_kept_question_is_one_statement_and_written_once() -> None:
    """The second time nothing is written anew: the queryset is not even built."""
    built: list[int] = []

    def build(pk: int) -> QuerySet[Meeting, Any]:
        built.append(pk)
        return Meeting.objects.filter(pk=pk).values_list("pk")

    ask = prepared(build)
    ask(1)
    with CaptureQueriesContext(connection) as sent:
        assert ask(2) == []
    assert (len(built), len(sent)) == (1, 1)


def test_a_question_with_very_many_ids_is_not_kept() -> None:
    """Each number of ids is another text, and a school asks with any number of them."""
    built: list[int] = []

    def build(pks: tuple[int, ...]) -> QuerySet[Meeting, Any]:
        built.append(len(pks))
        return Meeting.objects.filter(pk__in=pks).values_list("pk")

    ask = prepared(build)
    for size in (200, 200, 201, 201):
        assert ask(tuple(range(size))) == []
    assert built == [200, 201, 201]
