"""Every act at the desk, for the model and for the product."""

from datetime import date, datetime
from typing import Any

from accounts.models import Guardianship, User
from bookings import tasks
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Assessment, DaysAway, Feed, WeeklyPlace
from bookings.operations import booking as lessons
from bookings.operations import (
    calling_off,
    days_away,
    guardians,
    intakes,
    meetings,
    notes,
    offers,
    people,
    places,
    subscriptions,
    waiting,
    weekly,
)
from bookings.operations.reinstating import reinstate_meeting
from tests.races.simulation.both import Both
from tests.races.simulation.desk import LISTENER, PLAYER, No
from tests.races.simulation.reading import digest

REASON = "Agreed on the telephone."


class Acts(Both):
    """What anybody may do in one run."""

    # ---- one-on-ones
    def book_slot(self, student: int, teacher: int, offering: str, starts: datetime) -> str:
        return self._both(
            lambda: self.desk.book_slot(student, teacher, offering, starts, self.now),
            lambda: lessons.book_slot(
                actor=self.school.families[student],
                student=self.school.students[student],
                offering=self.school.offerings[offering],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                intake=intakes.IntakeText(pieces="Two studies."),
                now=self.now,
            ),
        )

    def move_slot(self, booking: int, teacher: int, starts: datetime) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.move_slot(booking, teacher, starts, self.now),
            lambda: lessons.move_slot(
                actor=actor,
                booking=theirs,
                starts_at=starts,
                instructor=self.school.teachers[teacher],
                now=self.now,
            ),
        )

    def cancel_slot(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.cancel_slot(booking, self.now),
            lambda: lessons.cancel_slot(actor=actor, booking=theirs, now=self.now),
        )

    def take_weekly(self, student: int, teacher: int, weekday: int, wall_at: int) -> str:
        """Which dates a term can hold is judged elsewhere: the model takes over what is there."""

        def take() -> None:
            place = weekly.take_weekly_place(
                actor=self.school.families[student],
                student=self.school.students[student],
                instructor=self.school.teachers[teacher],
                offering=self.school.offerings["lesson"],
                term=self.school.term,
                weekday=weekday,
                wall_at=wall_at,
                now=self.now,
            )
            taken.append(place)

        taken: list[WeeklyPlace] = []
        code = self._both(None, take)
        if taken:
            self.desk.take_weekly(
                student,
                teacher,
                list(taken[0].meetings.order_by("pk").values_list("starts_at", flat=True)),
            )
            self.agree()
        assert (code == "consent-missing") == (not self.desk.consents(student, self.now)), code
        assert code in ("", "term-dates", "consent-missing"), code
        return code

    def leave_weekly(self, place: int) -> str:
        theirs = WeeklyPlace.objects.select_related("student__user").order_by("pk")[place]
        actor = self.school.families[self.desk.weekly[place].student]
        return self._both(
            lambda: self.desk.leave_weekly(place, self.now),
            lambda: weekly.leave_weekly_place(actor=actor, place=theirs, now=self.now),
        )

    # ---- places in group meetings
    def book_place(
        self, student: int, meeting: int, kind: str, *, by_office: bool = False, ahead: bool = False
    ) -> str:
        """By an admin with a reason, at times ahead of those who wait."""
        said: dict[str, Any] = {"reason": REASON, "ahead_of_queue": ahead} if by_office else {}
        actor = self.school.admin if by_office else self.school.families[student]
        who, where = self.school.students[student], self._meeting(meeting)
        return self._both(
            lambda: self.desk.book_place(student, meeting, kind, self.now, ahead=ahead),
            lambda: places.book_place(
                actor=actor,
                student=who,
                meeting=where,
                place_kind=PlaceKind(kind),
                now=self.now,
                **said,
            ),
        )

    def join_line(self, student: int, meeting: int, kind: str) -> str:
        return self._queued(self.desk.join_line, waiting.join_waiting_list, student, meeting, kind)

    def leave_line(self, student: int, meeting: int, kind: str) -> str:
        return self._queued(
            self.desk.leave_line, waiting.leave_waiting_list, student, meeting, kind
        )

    def leave_place(self, booking: int, *, by_office: bool = False) -> str:
        actor, theirs = self._hers(booking)
        actor, reason = (self.school.admin, REASON) if by_office else (actor, "")
        return self._both(
            lambda: self.desk.leave_place(booking, self.now, by_office=by_office),
            lambda: places.leave_place(actor=actor, booking=theirs, reason=reason, now=self.now),
        )

    def change_place(self, booking: int, meeting: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.change_place(booking, meeting, self.now),
            lambda: places.move_place(
                actor=actor, booking=theirs, meeting=self._meeting(meeting), now=self.now
            ),
        )

    def accept(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.accept(booking, self.now),
            lambda: offers.accept_offer(actor=actor, booking=theirs, now=self.now),
        )

    def decline(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.decline(booking, self.now),
            lambda: offers.decline_offer(actor=actor, booking=theirs, now=self.now),
        )

    # ---- meetings
    def make_meeting(
        self, offering: str, teacher: int, starts: datetime, places: int, listeners: int
    ) -> str:
        return self._both(
            lambda: self.desk.make_meeting(
                offering, teacher, starts, {PLAYER: places, LISTENER: listeners}, self.now
            ),
            lambda: meetings.create_meeting(
                actor=self.school.admin,
                offering=self.school.offerings[offering],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                title="Ornaments",
                places=places,
                listener_places=listeners,
                now=self.now,
            ),
        )

    def change_meeting(
        self,
        meeting: int,
        *,
        starts: datetime | None = None,
        places: int | None = None,
        listeners: int | None = None,
        title: str | None = None,
    ) -> str:
        wanted = {kind: n for kind, n in ((PLAYER, places), (LISTENER, listeners)) if n is not None}
        theirs = self._meeting(meeting)
        asked: dict[str, Any] = {
            "starts_at": starts,
            "places": places,
            "listener_places": listeners,
            "title": title,
        }
        return self._both(
            lambda: self.desk.change_meeting(meeting, self.now, starts=starts, places=wanted),
            lambda: meetings.change_meeting(
                actor=self.school.admin, meeting=theirs, now=self.now, **asked
            ),
        )

    def call_off(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._both(
            lambda: self.desk.call_off(meeting, self.now),
            lambda: calling_off.call_off(
                actor=self.school.admin, meeting=theirs, why="The instructor is ill.", now=self.now
            ),
        )

    def reinstate(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._both(
            lambda: self.desk.reinstate(meeting, self.now),
            lambda: reinstate_meeting(actor=self.school.admin, meeting=theirs, now=self.now),
        )

    # ---- people, hours, notes, feeds: what the model keeps of them is little
    def go_away(self, teacher: int, first: date, last: date) -> str:
        """Where bookings stand in the way the school may refuse; then nothing may have changed."""
        hers = self.school.teachers[teacher]
        code = self._both(
            None,
            lambda: days_away.go_away(
                actor=hers.user,
                instructor=hers,
                first_on=first,
                last_on=last,
                time_zone=self.desk.teachers[teacher].zone,
                now=self.now,
            ),
        )
        assert code in ("", "has-bookings"), code
        away = self.desk.teachers[teacher].away
        if not code and (first, last) not in away:
            away.append((first, last))
        return code

    def come_back(self, teacher: int) -> str:
        away = (
            DaysAway.objects.filter(instructor=self.school.teachers[teacher])
            .select_related("instructor__user")
            .order_by("pk")
            .last()
        )
        if away is None:
            return "nothing"
        self.desk.teachers[teacher].away.pop()
        return self._both(
            str, lambda: days_away.come_back(actor=self.school.admin, away=away, now=self.now)
        )

    def change_zone(self, student: int, zone: str) -> str:
        actor = self.school.students[student].user
        if actor is None:
            return "nothing"
        self.desk.students[student].zone = zone
        return self._both(str, lambda: people.change_me(actor=actor, time_zone=zone, now=self.now))

    def consent(self, student: int, *, given: bool) -> str:
        """The guardian gives their consent by the form mailed to them, or takes it back."""
        row = (
            Guardianship.objects.filter(student=self.school.students[student])
            .select_related("guardian")
            .first()
        )
        if row is None or self.desk.students[student].consent == given:
            return "nothing"
        if given:
            row.consent_at, row.consent_wording = self.now, "2026-11"
            row.save()
            self.digest = digest()
            self.desk.students[student].consent = True
            return ""
        return self._both(
            lambda: self.desk.withdraw_consent(student, self.now),
            lambda: guardians.withdraw_consent(actor=row.guardian, guardianship=row, now=self.now),
        )

    def assess(self, student: int, teacher: int) -> str:
        author = self.school.teachers[teacher]

        def model() -> None:
            if not self.desk.meets(student, teacher, self.now):
                raise No("not-found")

        def write_and_release() -> Assessment:
            text = notes.NoteText(
                level=4,
                unit=2,
                next_step="Place the fourth finger first.",
                goal="The study in G, at 72.",
            )
            student_id = self.school.students[student].pk
            note = notes.write_assessment(
                actor=author.user, author=author, student_id=student_id, text=text, now=self.now
            )
            return notes.release_assessment(actor=author.user, note=note, now=self.now)

        return self._both(model, write_and_release)

    def open_feed(self, who: User) -> str:
        def open_one() -> None:
            opened = subscriptions.open_feed(actor=who, label="Phone", now=self.now)
            self.secrets[opened[0].pk] = opened[1]

        return self._both(str, open_one)

    def change_feed(self, feed: Feed, *, renew: bool) -> str:
        def change() -> None:
            if renew:
                self.secrets[feed.pk] = subscriptions.renew_feed(
                    actor=feed.owner, feed=feed, now=self.now
                )[1]
            else:
                subscriptions.revoke_feed(actor=feed.owner, feed=feed, now=self.now)
                del self.secrets[feed.pk]

        return self._both(str, change)

    # ---- both at once
    def fall_due(self) -> None:
        """The periodic task."""
        self.desk.fall_due(self.now)
        tasks.enqueue_due()
        self.agree()
