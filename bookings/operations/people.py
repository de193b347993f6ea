"""People: inviting them, and the guardian's consent that a minor's lessons need."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Q

from accounts.models import Guardianship, Instructor, Student, User, Welcome, digest, new_secret
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import own_students, require_admin
from bookings.domain.addresses import mail_address
from bookings.domain.errors import Refused
from bookings.domain.families import is_child
from bookings.domain.zones import zone
from bookings.models import LIVE, Booking
from bookings.operations.audit import record
from bookings.operations.invitations import open_invitations, void
from bookings.operations.locks import lock_instructors, lock_students
from bookings.queries.guardians import has_guardian

WELCOME_LASTS = timedelta(days=14)


def invite(
    *,
    actor: User,
    email: str,
    name: str,
    as_admin: bool = False,
    as_instructor: bool = False,
    student: Student | None = None,
    guardian_of: Student | None = None,
    now: datetime,
) -> Welcome:
    """An email with a form that makes one account, once, within two weeks.

    It voids the open ones to the same person in the same role: for that student, to that address, or under that name,
    since the older one may have gone to a mistyped address.
    """
    require_admin(actor)
    email, name = mail_address(email), name.strip()
    if User.objects.filter(email=email, is_active=False).exists():
        raise Refused("not-allowed", "The account with this address is closed: open it again.")
    if student is not None and student.user_id is not None:
        raise Refused("already-done", "This student has an account already.")
    if student is not None:
        _check_is_answered_for(student, now)
    same_role = open_invitations(now).filter(
        as_admin=as_admin, as_instructor=as_instructor, student=student, guardian_of=guardian_of
    )
    if student is None:
        same_role = same_role.filter(Q(email=email) | Q(name__iexact=name))
    void(same_role, now=now)
    secret = new_secret()
    welcome = Welcome.objects.create(
        email=email,
        name=name,
        secret_digest=digest(secret),
        as_admin=as_admin,
        as_instructor=as_instructor,
        student=student,
        guardian_of=guardian_of,
        sent_at=now,
        good_until=now + WELCOME_LASTS,
    )
    record(actor=actor, verb="invited", thing=welcome, now=now)
    outbox.enqueue(notices.welcome_letter(welcome, secret=secret, inviter=actor, now=now), now=now)
    return welcome


def welcome_by_secret(secret: str, *, now: datetime) -> Welcome:
    """An open invitation; used, expired and unknown look the same."""
    found = (
        Welcome.objects.select_related("student__user", "guardian_of__user")
        .filter(secret_digest=digest(secret), used_at__isnull=True, good_until__gt=now)
        .first()
    )
    if found is None:
        raise Refused(
            "not-found", "This invitation is no longer open. Ask the school for a new one."
        )
    return found


def come_in(*, secret: str, name: str, time_zone: str, password: str, now: datetime) -> User:
    """Makes the invited person's account, or gives the role to the account that has this address already."""
    welcome = _locked(secret, now)
    zone(time_zone)
    user = User.objects.filter(email=welcome.email).first()
    learns_already = user is not None and Student.objects.filter(user=user).exists()
    if welcome.student is not None and (welcome.student.user_id is not None or learns_already):
        raise Refused(
            "already-done",
            "This student, or this address, has a student's account already. Ask the school for another invitation.",
        )
    if welcome.student is not None:
        _check_is_answered_for(welcome.student, now)
    if user is not None and not user.is_active:
        raise Refused("not-allowed", "This account is closed. Ask the school to open it again.")
    if user is None:
        user = User.objects.create_user(
            welcome.email, password, name=name, time_zone=time_zone, joined_at=now
        )
    if welcome.as_admin or welcome.as_instructor:
        end_sessions_and_tokens(
            user
        )  # a new role is not for a browser that was signed in without it
    if welcome.as_admin:
        user.is_staff = user.is_superuser = True
        user.save(update_fields=["is_staff", "is_superuser"])
    if welcome.as_instructor:
        Instructor.objects.update_or_create(user=user, defaults={"is_active": True})
    if welcome.student is not None:
        welcome.student.user, welcome.student.own_name = user, ""
        welcome.student.save(update_fields=["user", "own_name"])
    if welcome.guardian_of is not None:
        Guardianship.objects.get_or_create(guardian=user, student=welcome.guardian_of)
    welcome.used_at = now
    welcome.save(update_fields=["used_at"])
    record(actor=user, verb="came in", thing=welcome, now=now)
    # An account of their own ends what the calendars of a grown child's guardians show of them.
    guardians = Guardianship.objects.filter(student=welcome.student).values_list("guardian")
    outbox.bump_feeds([user.pk, *(pk for (pk,) in guardians)], now=now)
    return user


def _locked(secret: str, now: datetime) -> Welcome:
    """The invitation with whom it is for, locked in the written order and read after.

    Of two that come by one link the second finds it used; one withdrawn or voided meanwhile is not found.
    """
    seen = welcome_by_secret(secret, now=now)
    lock_instructors(Instructor.objects.filter(user__email=seen.email).values_list("pk", flat=True))
    lock_students(pk for pk in (seen.student_id, seen.guardian_of_id) if pk is not None)
    known = User.objects.filter(email=seen.email)
    list(known.select_for_update(no_key=True).values_list("pk"))
    list(Welcome.objects.select_for_update().filter(pk=seen.pk).values_list("pk"))
    return welcome_by_secret(secret, now=now)


def _check_is_answered_for(student: Student, now: datetime) -> None:
    if is_child(student, now) and not has_guardian(student):
        raise Refused(
            "not-allowed", "A minor has no account without a guardian: invite the guardian first."
        )


def lock_me(actor: User, *, now: datetime) -> tuple[dict[int, Student], User]:
    """The students one acts for, and oneself, locked in that order and as they stand."""
    students = lock_students(row.pk for row in own_students(actor, now=now))
    return students, User.objects.select_for_update(no_key=True).get(pk=actor.pk)


def change_me(
    *, actor: User, name: str | None = None, time_zone: str | None = None, now: datetime
) -> User:
    """One's own name and clock. Meetings keep their instants; what is shown and mailed from now on is on the new clock.

    What has been written ahead too: it is told anew. The students' locks keep whoever books for her meanwhile from
    writing on the old clock.
    """
    students, user = lock_me(actor, now=now)
    told_on, changed = user.zone, []
    if name is not None and name != user.name:
        user.name = name
        changed.append("name")
    if time_zone is not None and time_zone != user.zone:
        user.time_zone = zone(time_zone)
        changed.append("time_zone")
    if not changed:
        return user
    user.save(update_fields=changed)
    record(actor=actor, verb="changed", thing=user, fields=changed, now=now)
    if user.zone != told_on:
        outbox.take_back_ahead(user.pk, now=now)
        bookings = told_ahead(students, now)
        outbox.enqueue(notices.clock_changed(user, bookings, told_on=told_on, now=now), now=now)
    outbox.bump_feeds([user.pk], now=now)
    return user


def told_ahead(students: Iterable[int], now: datetime) -> list[Booking]:
    """Live bookings ahead, and those of weekly places from their beginning, by start."""
    ahead = Q(starts_at__gt=now) | Q(
        meeting__weekly_place__ended_at__isnull=True, meeting__weekly_place__isnull=False
    )
    live = Booking.objects.filter(ahead, student__in=students, standing__in=LIVE)
    related = ("policy", "student__user", "meeting__offering", "meeting__instructor__user")
    places = (
        "meeting__weekly_place__student__user",
        "meeting__weekly_place__offering",
        "meeting__weekly_place__instructor__user",
    )
    return list(live.select_related(*related, *places).order_by("starts_at", "pk"))
