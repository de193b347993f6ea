"""The demo school before its summer term: forty students who want a weekly place, and two
instructors with hours for most of them. Everybody in it is invented.
"""

from datetime import date, datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.demo import people, school
from bookings.demo.weekly_hours import SaidWeek, window_of
from bookings.domain.vocabulary import Wish
from bookings.door import write
from bookings.models import Offering, Term
from bookings.operations.hours import publish_week
from bookings.operations.terms import publish_term
from tests import cast

HOURS = {
    people.ILSE: (
        "Mon 14:30-20:30",
        "Tue 15:00-20:00",
        "Wed 14:30-20:30",
        "Thu 15:00-20:30",
        "Fri 14:00-18:00",
    ),
    people.WREN: (
        "Mon 10:00-15:00",
        "Tue 14:30-20:00",
        "Wed 10:00-15:00",
        "Thu 14:30-20:00",
    ),
}
"""On the clocks of Dublin and of New York."""
NEWCOMERS = (
    ("Alba Thornfield", "Europe/London", 3),
    ("Bram Castellow", "America/New_York", 2),
    ("Clio Vandermere", "Europe/Dublin", 5),
    ("Dorian Ashby-Wells", "America/Toronto", 4),
    ("Edda Larkspur", "Europe/Oslo", 1),
    ("Fenn Marlowe-Tate", "America/Chicago", 6),
    ("Greta Holloway", "Europe/Berlin", 2),
    ("Hollis Brackenbury", "America/New_York", 7),
    ("Ines Quintrell", "Europe/Lisbon", 3),
    ("Jory Penhale", "Europe/London", 4),
    ("Keziah Moorland", "America/Denver", 5),
    ("Linus Everard", "Europe/Stockholm", 2),
    ("Maren Sollis", "Europe/Dublin", 1),
    ("Niall Fairweather", "America/Halifax", 3),
    ("Odile Ravensworth", "Europe/Paris", 6),
    ("Piers Tolland", "America/New_York", 4),
    ("Quilla Danforth", "America/Los_Angeles", 2),
    ("Rowan Estcourt", "Europe/London", 5),
    ("Saskia Wendover", "Europe/Amsterdam", 3),
    ("Tamsin Oakley", "America/New_York", 1),
    ("Ulric Pemberly", "Europe/Dublin", 8),
    ("Vesna Kirkbride", "Europe/Athens", 4),
)
SIBLINGS = (("Wynn Harrowgate", 3), ("Xanthe Harrowgate", 1))
AFTER_SCHOOL = tuple(f"{day} 15:30-19:30" for day in ("Mon", "Tue", "Wed", "Thu", "Fri"))
FIRST_ON = date(2027, 4, 19)


class Summer:
    """The school at `now`, with a term of ten weeks that nobody has a place in yet.

    Of the demo's students all have a place to ask for but Kit, for whom no consent is on file.
    """

    def __init__(self, now: datetime = cast.NOW) -> None:
        self.now = now
        school.load(now=now)
        self.admin = User.objects.get(email=people.DAG.email)
        self.instructors = [self._teaches_more(who) for who in HOURS]
        self.lesson = Offering.objects.get(name="Private lesson")
        demo = Student.objects.exclude(own_name=people.KIT.name)
        self.students = [*demo.order_by("pk"), *self._newcomers(), *self._siblings()]
        self.term = self._term()

    def _teaches_more(self, who: people.Teaching) -> Instructor:
        instructor = Instructor.objects.get(user__email=who.email)
        write(
            lambda: publish_week(
                actor=instructor.user,
                instructor=instructor,
                time_zone=who.time_zone,
                windows=[window_of(text) for text in HOURS[who]],
                now=self.now,
            ),
            now=self.now,
        )
        return instructor

    def _newcomers(self) -> list[Student]:
        return [cast.make_student(name, zone, level=level) for name, zone, level in NEWCOMERS]

    def _siblings(self) -> list[Student]:
        """Two children of one guardian, who may come after school."""
        guardian = cast.make_user("Sorrel Harrowgate", "Europe/London")
        children = [
            cast.make_minor(name, guardian=guardian, level=level, time_zone="Europe/London")
            for name, level in SIBLINGS
        ]
        week = SaidWeek(people.LARK, {Wish.GLADLY: AFTER_SCHOOL}, school=(8 * 60 + 30, 15 * 60))
        for child in children:
            write(lambda child=child: week.say(guardian, child, self.now), now=self.now)
        return children

    def _term(self) -> Term:
        return write(
            lambda: publish_term(
                actor=self.admin,
                name="Summer 2027",
                first_on=FIRST_ON,
                last_on=FIRST_ON + timedelta(weeks=10, days=-1),
                lessons_promised=10,
                now=self.now,
            ),
            now=self.now,
        )
