"""The school of the simulation in the database: made once, then each seed runs in a transaction
that is rolled back.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from django.db import connection, transaction

from bookings.domain.vocabulary import Kind
from bookings.models import Term
from tests import cast
from tests.races.simulation.desk import ALLOWANCE, LENGTHS, Student, Teacher

KINDS = {
    "consultation": Kind.CONSULTATION,
    "lesson": Kind.PRIVATE_LESSON,
    "class": Kind.GROUP_MEETING,
    "masterclass": Kind.MASTERCLASS,
}
TEACHERS = [
    ("Ilse Quarrow", "Europe/Dublin"),
    ("Wren Halloway", "America/New_York"),
    ("Tashi Lamsal", "Asia/Kathmandu"),
]
ADULTS = [
    ("Noor Ashgrove", "America/New_York"),
    ("Marlo Vance", "Europe/Dublin"),
    ("Juno Petrel", "Australia/Sydney"),
    ("Otis Fenwick", "America/Los_Angeles"),
    ("Ida Quince", "Asia/Kathmandu"),
    ("Sunniva Thorne", "Europe/Oslo"),
    ("Bram Oakhurst", "Pacific/Auckland"),
    ("Lene Farraday", "Asia/Tokyo"),
]
CHILDREN = [  # a brother and a sister, one without consent, and one who comes of age while it runs
    ("Kit Lindqvist-Reed", "Europe/Dublin", date(2034, 6, 1), True),
    ("Lark Lindqvist-Reed", "Europe/Dublin", date(2031, 3, 1), True),
    ("Rune Sandoval", "America/New_York", date(2033, 1, 1), False),
    ("Posy Marchetti", "Australia/Sydney", date(2027, 3, 16), True),
]


class School:
    """The rows that no step makes.

    Students and teachers stand in the order in which the model numbers them.
    """

    def __init__(self) -> None:
        # Load is judged elsewhere; here every hour of the day may be taught.
        wide = {
            "run_minutes": 1440,
            "day_minutes": 1440,
            "week_minutes": 10_080,
            "night_rest_minutes": 0,
        }
        cast.make_policy(open_consultations=ALLOWANCE, **wide)
        self.admin = cast.make_admin()
        self.teachers = [cast.make_instructor(name, zone) for name, zone in TEACHERS]
        self.offerings = {
            name: cast.make_offering(name, KINDS[name], minutes)
            for name, (minutes, _) in LENGTHS.items()
        }
        for teacher in self.teachers:
            cast.publish(teacher, cast.EVERY_DAY)
            cast.teaches(teacher, *self.offerings.values())
        self.students = [cast.make_student(name, zone) for name, zone in ADULTS]
        hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
        for name, zone, adult_on, consent in CHILDREN:
            guardian = (
                hedda if name.endswith("Reed") else cast.make_user(f"Guardian of {name}", zone)
            )
            self.students.append(
                cast.make_minor(name, zone, guardian=guardian, consent=consent, adult_on=adult_on)
            )
        self.families = [student.user or student.guardians.get() for student in self.students]
        self.term = Term.objects.create(
            name="Spring 2027",
            first_on=date(2027, 3, 1),
            last_on=date(2027, 4, 11),
            lessons_promised=6,
        )
        self._sequences = _sequences()

    def parties(self) -> tuple[list[Student], list[Teacher]]:
        """The same people for the model."""
        adults = [Student(zone) for _, zone in ADULTS]
        return [
            *adults,
            *(Student(zone, adult_on, consent) for _, zone, adult_on, consent in CHILDREN),
        ], [Teacher(z) for _, z in TEACHERS]

    @contextmanager
    def one_run(self) -> Iterator[None]:
        """Everything inside is rolled back, and ids begin anew, so that a seed tells the same story
        after any other.
        """
        with connection.cursor() as cursor:
            for name, last in self._sequences:
                cursor.execute("SELECT setval(%s, %s, %s)", [name, last or 1, last is not None])
        with transaction.atomic():
            yield
            connection.check_constraints()
            transaction.set_rollback(True)


def _sequences() -> list[tuple[str, int | None]]:
    """PostgreSQL's sequences do not roll back; SQLite's do."""
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT quote_ident(sequencename), last_value FROM pg_sequences WHERE schemaname = "
            "'public'"
        )
        return list(cursor.fetchall())
