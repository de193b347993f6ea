"""The school of the simulation in the database: made once, then each seed runs in a transaction
that is rolled back.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from django.db import connection, transaction

from accounts import models
from bookings.domain.vocabulary import Kind
from bookings.models import Term
from tests import cast
from tests.races.simulation.setting import ALLOWANCE, LENGTHS, Student, Teacher

KINDS = {
    "consultation": Kind.CONSULTATION,
    "lesson": Kind.PRIVATE_LESSON,
    "class": Kind.GROUP_MEETING,
    "masterclass": Kind.MASTERCLASS,
}
CHILD_LEVEL = 4
TEACHERS = [
    ("Ilse Quarrow", "Europe/Dublin"),
    ("Wren Halloway", "America/New_York"),
    ("Tashi Lamsal", "Asia/Kathmandu"),
]
LEVELS = {"consultation": (2, 10), "class": (3, 6), "masterclass": (5, 10)}
"""What the last of the teachers teaches; the others teach every level."""
ADULTS = [
    ("Noor Ashgrove", "America/New_York", 4),
    ("Marlo Vance", "Europe/Dublin", 5),
    ("Juno Petrel", "Australia/Sydney", 6),
    ("Otis Fenwick", "America/Los_Angeles", 3),
    ("Ida Quince", "Asia/Kathmandu", 7),
    ("Sunniva Thorne", "Europe/Oslo", 1),
    ("Bram Oakhurst", "Pacific/Auckland", 5),
    ("Lene Farraday", "Asia/Tokyo", 10),
]
SECOND_GUARDIANS = {"Kit Lindqvist-Reed": True, "Posy Marchetti": False}
"""Children with two guardians, and whether the second has consented."""
CHILDREN = [  # a brother and a sister, one without consent, and one who comes of age while it runs
    ("Kit Lindqvist-Reed", "Europe/Dublin", date(2034, 6, 1), True),
    ("Lark Lindqvist-Reed", "Europe/Dublin", date(2031, 3, 1), True),
    ("Rune Sandoval", "America/New_York", date(2033, 1, 1), False),
    ("Posy Marchetti", "Australia/Sydney", date(2027, 3, 16), True),
]


# Load is judged elsewhere; here every hour of the day may be taught.
WIDE = {
    "run_minutes": 1440,
    "day_minutes": 1440,
    "week_minutes": 10_080,
    "night_rest_minutes": 0,
}


class School:
    """The rows that no step makes.

    Students and teachers stand in the order in which the model numbers them.
    """

    def __init__(self) -> None:
        cast.make_policy(open_consultations=ALLOWANCE, **WIDE)
        self.admin = cast.make_admin()
        self.teachers = [cast.make_instructor(name, zone) for name, zone in TEACHERS]
        self.offerings = {
            name: cast.make_offering(name, KINDS[name], minutes)
            for name, (minutes, _) in LENGTHS.items()
        }
        self._teach()
        self.students = [cast.make_student(name, zone, level=level) for name, zone, level in ADULTS]
        self.students += _children()
        self.guardians = [
            [student.user] if student.user else list(student.guardians.order_by("pk"))
            for student in self.students
        ]
        self.families = [guardians[0] for guardians in self.guardians]
        self.term = Term.objects.create(
            name="Spring 2027",
            first_on=date(2027, 3, 1),
            last_on=date(2027, 4, 11),
            lessons_promised=6,
        )
        self._sequences = _sequences()

    def _teach(self) -> None:
        """Everybody teaches every day and every offering, the last teacher at LEVELS alone."""
        for teacher in self.teachers:
            cast.publish(teacher, cast.EVERY_DAY)
        *broad, narrow = self.teachers
        for teacher in broad:
            cast.teaches(teacher, *self.offerings.values())
        for name, offering in self.offerings.items():
            lowest, highest = LEVELS.get(name, (1, 10))
            cast.teaches(narrow, offering, lowest=lowest, highest=highest)

    def parties(self) -> tuple[list[Student], list[Teacher]]:
        """The same people for the model."""
        adults = [Student(zone, level) for _, zone, level in ADULTS]
        teachers = [Teacher(zone) for _, zone in TEACHERS]
        teachers[-1].levels = LEVELS
        return [
            *adults,
            *(
                Student(zone, CHILD_LEVEL, adult_on, [consent, *_second(name)], home=_home(name))
                for name, zone, adult_on, consent in CHILDREN
            ),
        ], teachers

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


def _home(name: str) -> str:
    """Of the brother and the sister; the other children have none with them."""
    surname = name.partition(" ")[2]
    return surname if sum(child[0].endswith(surname) for child in CHILDREN) > 1 else ""


def _second(name: str) -> list[bool]:
    return [SECOND_GUARDIANS[name]] if name in SECOND_GUARDIANS else []


def _children() -> list[models.Student]:
    hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
    children = [
        cast.make_minor(
            name,
            zone,
            guardian=(
                hedda if name.endswith("Reed") else cast.make_user(f"Guardian of {name}", zone)
            ),
            consent=consent,
            level=CHILD_LEVEL,
            adult_on=adult_on,
        )
        for name, zone, adult_on, consent in CHILDREN
    ]
    for child in children:
        for consents in _second(child.full_name):
            models.Guardianship.objects.create(
                guardian=cast.make_user("Anselm Finch", child.zone),
                student=child,
                consent_at=cast.NOW if consents else None,
                consent_wording="2026-11" if consents else "",
            )
    return children


def _sequences() -> list[tuple[str, int | None]]:
    """PostgreSQL's sequences do not roll back; SQLite's do."""
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT quote_ident(sequencename), last_value FROM pg_sequences "
            "WHERE schemaname = 'public'"
        )
        return list(cursor.fetchall())
