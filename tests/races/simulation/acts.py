"""Every act at the desk, for the model and for the product."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max

from accounts.models import Guardianship, User
from bookings import tasks
from bookings.models import Assessment, DaysAway, Feed, OutboxMessage
from bookings.operations import barring, days_away, guardians, notes, people, subscriptions
from bookings.queries.notes import latest_released
from tests.races.desk.meetings import GoAway
from tests.races.desk.rows import Away
from tests.races.simulation.books_acts import BooksActs
from tests.races.simulation.desk import No
from tests.races.simulation.lesson_acts import LessonActs
from tests.races.simulation.meeting_acts import MeetingActs
from tests.races.simulation.place_acts import PlaceActs
from tests.races.simulation.proposal_acts import ProposalActs
from tests.races.simulation.reading import digest


class Acts(LessonActs, PlaceActs, MeetingActs, ProposalActs, BooksActs):
    """What anybody may do in one run."""

    # ---- people, hours, notes, feeds: what the model keeps of them is little
    def go_away(self, teacher: int, first: date, last: date) -> str:
        """Where meetings stand in the way it is refused."""
        who, zone = self.school.teachers[teacher], self.desk.teachers[teacher].zone
        return self._act(
            GoAway(_days(teacher, first, last, zone)),
            lambda: days_away.go_away(
                actor=who.user,
                instructor=who,
                first_on=first,
                last_on=last,
                time_zone=zone,
                now=self.now,
            ),
        )

    def come_back(self, teacher: int) -> str:
        away = (
            DaysAway.objects.filter(instructor=self.school.teachers[teacher])
            .select_related("instructor__user")
            .order_by("pk")
            .last()
        )
        if away is None:
            return "nothing"
        zone = self.desk.teachers[teacher].zone
        self.desk.comes_back(_days(teacher, away.first_on, away.last_on, zone))
        return self._both(
            str, lambda: days_away.come_back(actor=self.school.admin, away=away, now=self.now)
        )

    def change_zone(self, student: int, zone: str) -> str:
        actor = self.school.students[student].user
        if actor is None:
            return "nothing"
        self.desk.students[student].zone = zone
        return self._both(str, lambda: people.change_me(actor=actor, time_zone=zone, now=self.now))

    def consent(self, student: int, guardian: int, *, given: bool) -> str:
        """A guardian gives their consent by the form mailed to them, or takes it back."""
        row, who = self._guardianship(student, guardian), self.desk.students[student]
        if row is None or guardian in who.barred or who.agreed[guardian] == given:
            return "nothing"
        if given:
            row.consent_at, row.consent_wording = self.now, "2026-11"
            row.save()
            self.digest = digest()
            who.agreed[guardian] = True
            return ""
        return self._both(
            lambda: self.desk.withdraw_consent(student, guardian, self.now),
            lambda: guardians.withdraw_consent(actor=row.guardian, guardianship=row, now=self.now),
        )

    def bar(self, student: int, guardian: int) -> str:
        row = self._guardianship(student, guardian)
        if row is None:
            return "nothing"
        newest = OutboxMessage.objects.aggregate(newest=Max("pk"))["newest"] or 0
        code = self._both(
            lambda: self.desk.bar(student, guardian, self.now),
            lambda: barring.bar_guardian(
                actor=self.school.admin, guardianship=row, why="A court order.", now=self.now
            ),
        )
        if not code:
            self.bars[student, guardian] = newest, self.now
        return code

    def _guardianship(self, student: int, guardian: int) -> Guardianship | None:
        rows = Guardianship.objects.filter(student=self.school.students[student])
        found = list(rows.select_related("guardian", "student").order_by("guardian_id"))
        return found[guardian] if guardian < len(found) else None

    def assess(self, student: int, teacher: int) -> str:
        author = self.school.teachers[teacher]

        def model() -> None:
            if not self.desk.meets(student, teacher, self.now):
                raise No("not-found")

        def write_and_release() -> Assessment:
            text = notes.NoteText(
                level=4,
                unit=2,
                next_steps=["Place the fourth finger first."],
                goal="The study in G, at 72.",
            )
            student_id = self.school.students[student].pk
            note = notes.write_assessment(
                actor=author.user, author=author, student_id=student_id, text=text, now=self.now
            )
            latest = latest_released(note.student)
            return notes.release_assessment(
                actor=author.user, note=note, over=latest and latest.pk, now=self.now
            )

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


def _days(teacher: int, first: date, last: date, zone: str) -> Away:
    """From midnight to midnight on that clock, both days included."""
    since, until = (
        datetime.combine(on, time(), ZoneInfo(zone)) for on in (first, last + timedelta(days=1))
    )
    return Away(teacher, since.astimezone(UTC), until.astimezone(UTC))
