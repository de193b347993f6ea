"""People, hours, notes and feeds, for the model and the product: the model keeps little of them."""

from datetime import date

from accounts.models import Guardianship, User
from bookings.models import Assessment, DaysAway, Feed
from bookings.operations import (
    days_away,
    guardians,
    notes,
    people,
    subscriptions,
)
from tests.races.simulation.both import Both
from tests.races.simulation.desk import No
from tests.races.simulation.reading import digest


class PeopleActs(Both):
    """Days away, clocks, consents, notes and feeds."""

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
