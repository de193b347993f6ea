"""Emails to a substitute: whether they take lessons outside their hours or load, and that they are
not needed after all.
"""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import Student, User
from bookings.models import CoverQuestion, OutboxMessage, Plan
from bookings.notices.people import as_taught
from bookings.notices.rows import plan_key, row
from bookings.notices.wording import TEACHING, email_text, link, short_time
from bookings.outbox import MessageKind

Asked = Iterable[tuple[CoverQuestion, Student]]
"""Questions, each with the student of the lesson."""


def cover_asked(plan: Plan, questions: Asked, *, now: datetime) -> list[OutboxMessage]:
    """One email to each instructor about all the lessons of which the plan asks, with a link."""
    return [
        _email(
            plan,
            reader,
            f"asked:{plan.version}",
            "Would you teach as a substitute?",
            [
                "A colleague cannot teach. You are free at these times, but they lie outside "
                "your hours or beyond your load:\n" + "\n".join(lines),
                f"Say yes or no to each: {link('/cover/')}",
                "Nobody answers for you. Without your yes you are not booked, and the families "
                "have not been told anything.",
            ],
            now,
        )
        for reader, lines in _by_reader(questions, now).items()
    ]


def cover_not_needed(plan: Plan, questions: Asked, *, now: datetime) -> list[OutboxMessage]:
    """One email to each instructor whom a discarded plan had asked about these lessons."""
    return [
        _email(
            plan,
            reader,
            "discarded",
            "You are not needed as a substitute",
            [
                "You were asked to teach these lessons for a colleague. The school has decided "
                "otherwise, so you do not teach them:\n" + "\n".join(lines),
                "You no longer need to answer.",
            ],
            now,
        )
        for reader, lines in _by_reader(questions, now).items()
    ]


def _by_reader(questions: Asked, now: datetime) -> dict[User, list[str]]:
    """The lessons of each instructor, a line each on the instructor's clock."""
    lines: dict[User, list[str]] = {}
    for question, student in questions:
        reader, what = question.instructor.user, question.meeting.offering.name
        starts = short_time(question.starts_at, reader.zone)
        line = f"  {starts}: {as_taught(student, now)}, {what}"
        lines.setdefault(reader, []).append(line)
    return lines


def _email(
    plan: Plan, reader: User, state_key: str, title: str, told: list[str], now: datetime
) -> OutboxMessage:
    return row(
        reader,
        MessageKind.TOLD,
        plan_key(plan),
        state_key,
        title=title,
        body=email_text(reader.name, told, changes=TEACHING),
        now=now,
    )
