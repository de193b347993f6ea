"""A school in which Noor and Posy have one of everything that is stored of a person."""

import io
import json
import zipfile
from typing import Any

from django.apps import apps
from django.db.models import Model

from accounts.models import Student, User
from bookings.domain.vocabulary import NoteState, PrivacyKind
from bookings.models import (
    AuditReason,
    AuditRow,
    BusyCalendar,
    DataReading,
    Intake,
    KeptAnswer,
    OutboxMessage,
    PrivacyRequest,
    StudentHours,
    StudentWeek,
)
from bookings.operations.erasing import erase_due
from bookings.operations.exporting import Export
from bookings.operations.privacy_requests import approve, ask_for_erasure
from bookings.operations.subscriptions import open_feed
from bookings.queries.privacy import ERASED_AFTER
from tests import cast
from tests.cast import NOW
from tests.school.leaving import School

REMARK, HURTS, GOAL, ASKED = "canary-remark", "canary-hurts", "canary-goal", "canary-question"
WORDS = (REMARK, HURTS, GOAL, ASKED, "canary-room", "canary-why", "canary-busy", "canary-admin")


DONE = NOW + ERASED_AFTER
"""When an erasure that is asked for today is done."""


class PrivateSchool(School):
    """`tests.school.leaving.School` with notes, intake, emails, feeds and reasons."""

    def write_of(self, student: Student) -> None:
        """One row of every kind that holds words of this student."""
        self.fill(student)
        note = cast.make_assessment(
            student, self.ilse, goal=GOAL, state=NoteState.RELEASED, released_at=NOW
        )
        note.private_remarks = REMARK
        note.save()
        cast.make_assessment(student, self.ilse, goal="canary-draft")
        lesson = student.bookings.filter(meeting__offering=self.lesson).order_by("pk").first()
        assert lesson is not None
        intake = Intake(booking=lesson, questions=[ASKED], written_at=NOW)
        intake.hurts = HURTS
        intake.save()
        meeting = lesson.meeting
        meeting.called_off_why, meeting.join_address = "canary-why", "https://canary-room.example/"
        meeting.save()
        self._time_of(student)
        self._emails_about(student)
        act = {"verb": "called off", "thing": "booking", "thing_id": lesson.pk}
        DataReading.objects.create(
            student=student,
            reader=self.ilse.user,
            relation="instructor",
            what="health",
            booking=lesson,
            on=NOW.date(),
            first_at=NOW,
        )
        row = AuditRow.objects.create(at=NOW, **act)
        AuditReason.objects.create(row=row, text="canary-admin")

    def _time_of(self, student: Student) -> None:
        """Hours, a busy calendar and a feed."""
        week = StudentWeek.objects.create(student=student, changed_at=NOW)
        StudentHours.objects.create(week=week, weekday=1, opens=600, closes=660, wish="gladly")
        owner = student.user or self.hedda
        BusyCalendar.objects.create(
            owner=student.user,
            student=None if student.user else student,
            name="canary-busy",
            host="h",
            added_at=NOW,
            next_at=NOW,
        )
        open_feed(actor=owner, label="canary-feed", now=NOW)

    def _emails_about(self, student: Student) -> None:
        """To the family, to the instructor, and in an answer kept for an admin."""
        owner = student.user or self.hedda
        self.tell(owner, student)
        self.tell(self.ilse.user, student)
        KeptAnswer.objects.create(
            user=self.dag,
            method="POST",
            path="/",
            key="k",
            fingerprint="f",
            body=f'"{student.full_name}"',
            made_at=NOW,
        )

    def tell(self, reader: User, student: Student) -> None:
        """An email that names the student, and has left."""
        OutboxMessage.objects.create(
            recipient=reader,
            kind="told",
            subject_key=f"told:{student.pk}",
            state_key="sent",
            to_address=reader.email,
            title=f"{student.full_name} has booked",
            body=f"Dear {reader.name}, {student.full_name} has booked.",
            message_id="<canary@rowanmere.example>",
            made_at=NOW,
            due_at=NOW,
            sent_at=NOW,
            state="sent",
        )


def ask(school: PrivateSchool, student: Student, *, actor: User | None = None) -> PrivacyRequest:
    return ask_for_erasure(
        actor=actor or student.user or school.hedda,
        student_id=student.pk,
        end_bookings=True,
        now=NOW,
    )


def erase(school: PrivateSchool, student: Student) -> None:
    """Asked for and approved today, and done in fourteen days."""
    request = ask(school, student)
    approve(actor=school.dag, student_id=student.pk, kind=PrivacyKind.ERASURE, now=NOW)
    assert erase_due(request_id=request.pk, now=DONE) is not None
    student.refresh_from_db()


def dump() -> str:
    """Every value of every row of every table, as text."""
    models: list[type[Model]] = list(apps.get_models())
    return "\n".join(
        repr(value)
        for model in models
        for row in model._default_manager.values()
        for value in row.values()
    )


def opened(export: Export) -> tuple[dict[str, Any], str]:
    """The data of an archive, and its calendar file."""
    return read_zip(export.content)


def read_zip(content: bytes) -> tuple[dict[str, Any], str]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert sorted(archive.namelist()) == ["data.json", "lessons.ics"]
        return json.loads(archive.read("data.json")), archive.read("lessons.ics").decode()
