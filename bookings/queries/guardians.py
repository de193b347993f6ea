"""Who answers for whom, with the consents given, and students left without a guardian."""

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Guardianship, Student, User
from bookings.access import not_there, require_admin
from bookings.domain.errors import Refused
from bookings.domain.families import is_answered_for, is_child


def guardianships_of(user: User) -> QuerySet[Guardianship]:
    """The user's own guardianships, one for each child for whom they answer."""
    rows = Guardianship.objects.answering().filter(guardian=user)
    return rows.select_related("guardian", "student__user").order_by("pk")


def known_guardianships(actor: User, user: User) -> QuerySet[Guardianship]:
    """All guardianships of this person, for an admin: barred ones too, and of a closed account.

    Refused("not-allowed") for other people.
    """
    require_admin(actor)
    rows = Guardianship.objects.filter(guardian=user).select_related("student__user")
    return rows.order_by("pk")


def own_guardianship(user: User, guardianship_id: int) -> Guardianship:
    """A guardianship of the user's own.

    Refused("not-found") for any other, for admins too: only the guardian consents.
    """
    found = guardianships_of(user).filter(pk=guardianship_id).first()
    if found is None:
        raise not_there()
    return found


def all_guardianships(actor: User, *, barred: bool | None = None) -> QuerySet[Guardianship]:
    """Guardianships of everybody, for an admin; those in which the guardian is barred, or is not,
    where `barred` says so.

    Refused("not-allowed") for other people.
    """
    require_admin(actor)
    rows = Guardianship.objects.all()
    if barred is not None:
        rows = rows.filter(barred_at__isnull=not barred)
    return rows.select_related("guardian", "student__user", "barred_by")


def any_guardianship(actor: User, guardianship_id: int) -> Guardianship:
    """Any guardianship, for an admin; a barred one too. Refused("not-allowed") for other people."""
    require_admin(actor)
    rows = Guardianship.objects.select_related("guardian", "student__user", "barred_by")
    found = rows.filter(pk=guardianship_id).first()
    if found is None:
        raise not_there()
    return found


def has_guardian(student: Student) -> bool:
    """Whether a guardian answers for the student."""
    return student.guardianships.answering().exists()


def check_is_no_minors(email: str, *, now: datetime) -> None:
    """Refused("not-allowed") where the account with this address is a minor's: a guardian gives
    consent, also for themselves where they are the student.
    """
    learner = Student.objects.select_related("user").filter(user__email=email).first()
    if learner is not None and is_child(learner, now):
        raise Refused(
            "not-allowed",
            f"A guardian is an adult, and this is the address of {learner.first_name}, a minor. "
            "Use the guardian’s own address.",
        )


def check_is_no_guardians(email: str) -> None:
    """Refused("not-allowed") where the account with this address is a guardian's, or a barred
    guardian's: it must not become a minor's own.
    """
    if Guardianship.objects.filter(guardian__email=email).exists():
        raise Refused(
            "not-allowed",
            "This is the address of a guardian’s account. A minor needs an address of their own.",
        )


def check_guards_nobody(user_id: int) -> None:
    """Refused("not-allowed") where this account is a guardian's, or a barred guardian's: its person
    must not become a minor.
    """
    rows = Guardianship.objects.filter(guardian=user_id).select_related("student__user")
    names = [row.student.first_name for row in rows.order_by("student")]
    if names:
        whose = " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
        raise Refused(
            "not-allowed",
            f"This student is a guardian of {whose}, and a guardian is an adult. First remove them "
            "as a guardian, on the page of each child; then make them a minor.",
        )


def is_minor_alone(now: datetime) -> Q:
    """For rows of students: a minor for whom nobody answers."""
    answering = Guardianship.objects.answering().filter(student=OuterRef("pk"))
    return Q(~Exists(answering), adult_on__gt=now.date())


def minors(now: datetime) -> Q:
    """For rows of students: those who are minors now, each on their own clock. One query."""
    today = now.date()
    # Clocks differ by a day at most: only who comes of age about now needs a look at theirs.
    about_now = Student.objects.filter(adult_on__range=(today, today + timedelta(days=1)))
    near = [one.pk for one in about_now.select_related("user") if is_child(one, now)]
    return Q(adult_on__gt=today + timedelta(days=1)) | Q(pk__in=near)


def needs_guardian(student: Student, now: datetime) -> bool:
    """The same of one student, on the student's own clock."""
    return is_child(student, now) and not has_guardian(student)


def left_alone(students: Collection[Student], *, without: User, now: datetime) -> list[Student]:
    """Which of these students have nobody to answer for them without this guardian.

    A minor needs a guardian who answers and has consented; an adult without an account needs one
    who answers.
    """
    others = Guardianship.objects.answering().exclude(guardian=without)
    alone = []
    for student in students:
        left = others.filter(student=student)
        if is_child(student, now):
            left = left.agreed()
        if is_answered_for(student, now) and not left.exists():
            alone.append(student)
    return alone
