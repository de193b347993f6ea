"""A school with one row of every kind that it lets go of, each begun at one moment."""

from datetime import datetime, timedelta
from typing import Any

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db.models import Model

from accounts.models import Student, Welcome
from bookings.domain.standard_webhooks import new_signing_secret
from bookings.models import (
    AssessmentReading,
    AuditReason,
    AuditRow,
    Booking,
    BusyCalendar,
    BusyPeriod,
    CarriedBurden,
    CoverQuestion,
    DataReading,
    Exchange,
    Feed,
    Intake,
    KeptAnswer,
    LastAnswer,
    OutboxMessage,
    Plan,
    SentSequence,
    StudentWeek,
    Term,
    WaitingPlace,
    Webhook,
)
from tests import cast

MINUTE = timedelta(minutes=1)


class OldSchool:
    """Makes a row of a kind whose time began, or ended, at an instant."""

    def __init__(self) -> None:
        self.ilse, self.offering = cast.make_instructor(), cast.make_offering()
        self.noor = cast.make_student("Noor")

    def row(self, code: str, began: datetime) -> Model:
        """The row of that kind."""
        make = getattr(self, "_" + code.replace("-", "_"))
        made: Model = make(began)
        return made

    def _lesson(self, ended: datetime, **fields: Any) -> Booking:
        """Of people of their own, so that two at one time do not meet."""
        starts_at = ended - timedelta(minutes=self.offering.minutes)
        meeting = cast.make_meeting(self.offering, cast.make_instructor(), starts_at, **fields)
        return cast.make_booking(meeting, cast.make_student())

    def _left(self) -> Student:
        """A student who has left, without a lesson or an audit row of their own."""
        student = cast.make_student("Marlo")
        student.is_active = False
        student.save()
        return student

    def _health(self, ended: datetime) -> Intake:
        intake = Intake(booking=self._lesson(ended), pieces="Study 4", written_at=ended)
        intake.hurts = "The left wrist."
        intake.save()
        return intake

    _intakes = _health

    def _applications(self, ended: datetime) -> WaitingPlace:
        meeting = self._lesson(ended).meeting
        return WaitingPlace.objects.create(
            meeting=meeting,
            student=self.noor,
            joined_at=ended - timedelta(days=1),
            piece="Study 4",
            recording="x",
        )

    def _rooms(self, ended: datetime) -> Model:
        return self._lesson(ended, join_address="https://room.example/").meeting

    def _called_off(self, ended: datetime) -> Model:
        return self._lesson(ended, called_off_why="Ilse is ill.").meeting

    def _plan(self, made_at: datetime, **fields: Any) -> Plan:
        how = {"state": "FAILED", "asked": {"students": [1]}, "made_at": made_at, **fields}
        return Plan.objects.create(kind="cover", **how)

    _plans = _plan

    def _cover_questions(self, starts_at: datetime) -> CoverQuestion:
        meeting = self._lesson(starts_at + timedelta(minutes=self.offering.minutes)).meeting
        return CoverQuestion.objects.create(
            plan=self._plan(starts_at),
            meeting=meeting,
            instructor=self.ilse,
            starts_at=starts_at,
            asked_at=starts_at,
        )

    def _term(self) -> Term:
        return Term.objects.get_or_create(
            name="Winter",
            defaults={
                "first_on": "2020-01-06",
                "last_on": "2020-03-29",
                "flex_last_on": "2020-04-05",
                "lessons_promised": 10,
            },
        )[0]

    def _exchanges(self, ended: datetime) -> Exchange:
        return Exchange.objects.create(
            plan=self._plan(ended),
            term=self._term(),
            made_at=ended,
            answer_by=ended,
            ended_at=ended,
            ended_why="lapsed",
        )

    def _notes_of_leavers(self, _: datetime) -> Model:
        return cast.make_assessment(self._left(), self.ilse)

    def _weeks_of_leavers(self, at: datetime) -> Model:
        return StudentWeek.objects.create(student=self._left(), changed_at=at)

    def _calendars_of_leavers(self, at: datetime) -> Model:
        return BusyCalendar.objects.create(owner=self._left().user, name="Work", added_at=at)

    def _burdens_of_leavers(self, _: datetime) -> Model:
        return CarriedBurden.objects.create(student=self._left(), term=self._term(), burden=3)

    def _invitations(self, until: datetime) -> Model:
        return Welcome.objects.create(
            email="wren@rowanmere.example",
            name="Wren",
            as_admin=True,
            sent_at=until,
            good_until=until,
            secret_digest=f"digest {until:%f%S}",
        )

    def _address_changes(self, until: datetime) -> Model:
        made = {"asked_at": until, "good_until": until, "secret_digest": f"digest {until:%f%S}"}
        return self.noor.user.address_changes.create(email="noor@rowanmere.example", **made)

    def _deliveries(self, at: datetime) -> Model:
        hook = Webhook(name="Books", address="https://books.rowanmere.example/told", made_at=at)
        hook.secret = new_signing_secret()
        hook.save()
        attempt = {"event_id": "evt_1", "kind": "meeting.made", "number": 1, "milliseconds": 40}
        return hook.attempts.create(at=at, status=204, **attempt)

    def _sessions(self, expires: datetime) -> Model:
        key = f"s{expires:%S%f}"
        return Session.objects.create(session_key=key, session_data="", expire_date=expires)

    def _tokens(self, expires: datetime) -> Model:
        tokens = apps.get_model("knox", "AuthToken").objects
        row, _ = tokens.create(self.noor.user)
        row.expiry = expires
        row.save()
        return row

    def _office_log(self, at: datetime) -> Model:
        entries = apps.get_model("admin", "LogEntry").objects
        return entries.create(
            user=self.noor.user, action_flag=1, object_repr="Noor", action_time=at
        )

    def _email(self, sent: datetime, **fields: Any) -> Model:
        told = {"title": "Booked", "body": "Dear Noor", "to_address": "noor@rowanmere.example"}
        return OutboxMessage.objects.create(
            recipient=self.noor.user,
            kind="told",
            subject_key=f"told:{OutboxMessage.objects.count()}",
            state_key="sent",
            message_id="<a@rowanmere.example>",
            made_at=sent,
            due_at=sent,
            sent_at=sent,
            state="sent",
            **{**told, **fields},
        )

    _email_texts = _email
    _email_addresses = _email

    def _sequences(self, ended: datetime) -> Model:
        meeting = self._lesson(ended).meeting
        return SentSequence.objects.create(meeting=meeting, recipient=self.noor.user, sequence=1)

    def _calendar_answers(self, ended: datetime) -> Model:
        meeting = self._lesson(ended).meeting
        return LastAnswer.objects.create(
            meeting=meeting, recipient=self.noor.user, hour_began=ended
        )

    def _feeds(self, revoked: datetime) -> Model:
        return Feed.objects.create(
            owner=self.noor.user,
            label="Phone",
            secret_digest=f"digest {revoked:%S%f}",
            revised_at=revoked,
            opened_at=revoked,
            revoked_at=revoked,
        )

    def _busy(self, ended: datetime) -> Model:
        calendar = BusyCalendar.objects.create(owner=self.noor.user, name="Work", added_at=ended)
        return BusyPeriod.objects.create(
            calendar=calendar, starts_at=ended - 5 * MINUTE, ends_at=ended
        )

    def _kept_answers(self, made: datetime) -> Model:
        return KeptAnswer.objects.create(
            user=self.noor.user,
            method="POST",
            path="/x/",
            key=str(made),
            fingerprint="",
            made_at=made,
        )

    def _note_readings(self, at: datetime) -> Model:
        note = cast.make_assessment(self.noor, self.ilse)
        return AssessmentReading.objects.create(
            assessment=note, reader=self.ilse.user, relation="author", read_at=at
        )

    def _data_readings(self, at: datetime) -> Model:
        return DataReading.objects.create(
            student=self.noor,
            reader=self.ilse.user,
            relation="admin",
            what="export",
            on=at.date(),
            first_at=at,
        )

    def _reasons(self, at: datetime) -> Model:
        act = AuditRow.objects.create(at=at, verb="acted", thing="user", thing_id=1)
        return AuditReason.objects.create(row=act, text="The family asked.")
