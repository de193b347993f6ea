"""Invitations: sent by an admin, accepted by the invited person, withdrawn or replaced."""

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from accounts.models import Guardianship, Instructor, Student, User, Welcome, digest, new_secret
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.addresses import mail_address
from bookings.domain.errors import Refused
from bookings.domain.families import is_child
from bookings.domain.zones import zone
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors, lock_students
from bookings.operations.reminders import family_ids, tell_family_anew
from bookings.queries.guardians import (
    check_is_no_guardians,
    check_is_no_minors,
    has_guardian,
)

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
    """Sends a link that makes one account or gives one role, once and within two weeks.

    It voids open invitations for the same role to the same student, address or name, because the
    older one may have gone to a wrong address. Refused: "not-allowed", "already-done".
    """
    require_admin(actor)
    email, name = mail_address(email), name.strip()
    _check_may_be_invited(email, student, now)
    _check_is_not_barred(email, guardian_of)
    _check_is_one_or_other(email, student, guardian_of, now)
    same_role = Welcome.objects.usable(now).filter(
        as_admin=as_admin, as_instructor=as_instructor, student=student, guardian_of=guardian_of
    )
    if student is None:
        same_role = same_role.filter(Q(email=email) | Q(name__iexact=name))
    void(same_role, now=now)
    return _send(
        Welcome(
            email=email,
            name=name,
            as_admin=as_admin,
            as_instructor=as_instructor,
            student=student,
            guardian_of=guardian_of,
        ),
        actor=actor,
        now=now,
    )


def _check_may_be_invited(email: str, student: Student | None, now: datetime) -> None:
    if User.objects.filter(email=email, is_active=False).exists():
        raise Refused("not-allowed", "The account with this address is closed: open it again.")
    if student is not None:
        if student.user_id is not None:
            raise Refused("already-done", "This student has an account already.")
        _check_is_answered_for(student, now)


def _check_is_not_barred(email: str, child: Student | None) -> None:
    if child is not None and child.guardianships.barred().filter(guardian__email=email).exists():
        raise Refused(
            "not-allowed",
            f"This person is barred as a guardian of {child.first_name}. An admin can lift it.",
        )


def _check_is_one_or_other(
    email: str, student: Student | None, child: Student | None, now: datetime
) -> None:
    """No account is a minor's and a guardian's: nobody gives consent for themselves."""
    if child is not None:
        check_is_no_minors(email, now=now)
    if student is not None and is_child(student, now):
        check_is_no_guardians(email)


def _send(welcome: Welcome, *, actor: User, now: datetime) -> Welcome:
    """Saves an invitation with a new secret and sends it."""
    secret = seal(welcome, now=now)
    welcome.save(force_insert=True)
    record(actor=actor, verb="invited", thing=welcome, now=now)
    outbox.enqueue(notices.welcome_email(welcome, secret=secret, inviter=actor, now=now), now=now)
    return welcome


def seal(*welcomes: Welcome, now: datetime) -> str:
    """Gives these unsaved invitations one new link, good from now on; returns its secret."""
    secret = new_secret()
    for welcome in welcomes:
        welcome.secret_digest = digest(secret)
        welcome.sent_at, welcome.good_until = now, now + WELCOME_LASTS
    return secret


def welcomes_by_secret(secret: str, *, now: datetime) -> list[Welcome]:
    """The open invitations of the link with this secret, one for each role that it gives.

    Refused("not-found") for one that is unknown, used or expired: they all look the same.
    """
    rows = Welcome.objects.usable(now).select_related("student__user", "guardian_of__user")
    found = list(rows.filter(secret_digest=digest(secret)).order_by("pk"))
    if not found:
        raise _not_open()
    return found


def _not_open() -> Refused:
    return Refused("not-found", "This invitation is no longer open. Ask the school for a new one.")


def come_in(*, secret: str, name: str, time_zone: str, password: str, now: datetime) -> User:
    """Makes the invited person's account, or gives the roles to the account with this address.

    Refused: "not-found" as `welcomes_by_secret`, "already-done", "not-allowed".
    """
    welcomes = _locked(secret, now)
    zone(time_zone)
    email = welcomes[0].email
    user = User.objects.filter(email=email).first()
    for welcome in welcomes:
        _check_may_come_in(welcome, user, now)
    if user is None:
        user = User.objects.create_user(
            email, password, name=name, time_zone=time_zone, joined_at=now
        )
    shown_to = {user.pk}
    for welcome in welcomes:
        _give_roles(welcome, user)
        welcome.used_at = now
        welcome.save(update_fields=["used_at"])
        record(actor=user, verb="came in", thing=welcome, now=now)
        student = welcome.student or welcome.guardian_of
        if student is not None:
            tell_family_anew(student, now=now)
            # A grown child's guardians no longer see the child's lessons once the child has an
            # account.
            shown_to |= family_ids(student)
    outbox.bump_feeds(shown_to, now=now)
    return user


def _check_may_come_in(welcome: Welcome, user: User | None, now: datetime) -> None:
    """`user` is the person who has the invited address already, if there is one."""
    if welcome.student is not None:
        learns_already = user is not None and Student.objects.filter(user=user).exists()
        if welcome.student.user_id is not None or learns_already:
            raise Refused(
                "already-done",
                "This student, or this address, has a student's account already. "
                "Ask the school for another invitation.",
            )
        _check_is_answered_for(welcome.student, now)
    if user is not None and not user.is_active:
        raise Refused("not-allowed", "This account is closed. Ask the school to open it again.")
    _check_is_one_or_other(welcome.email, welcome.student, welcome.guardian_of, now)
    child = welcome.guardian_of
    if child is not None and child.guardianships.barred().filter(guardian=user).exists():
        raise _not_open()


def _give_roles(welcome: Welcome, user: User) -> None:
    if welcome.as_admin or welcome.as_instructor:
        # A browser that was signed in without the new role must not get it.
        end_sessions_and_tokens(user)
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


def _locked(secret: str, now: datetime) -> list[Welcome]:
    """The invitations and the people they concern, locked in lock order and then read.

    The second of two requests with one link finds it used.
    """
    seen = welcomes_by_secret(secret, now=now)
    email = seen[0].email
    lock_instructors(Instructor.objects.filter(user__email=email).values_list("pk", flat=True))
    concerned = (pk for row in seen for pk in (row.student_id, row.guardian_of_id))
    lock_students(pk for pk in concerned if pk is not None)
    known = User.objects.filter(email=email)
    list(known.select_for_update(no_key=True).values_list("pk"))
    rows = Welcome.objects.filter(pk__in=[row.pk for row in seen]).order_by("pk")
    list(rows.select_for_update().values_list("pk"))
    return welcomes_by_secret(secret, now=now)


def _check_is_answered_for(student: Student, now: datetime) -> None:
    if is_child(student, now) and not has_guardian(student):
        raise Refused(
            "not-allowed", "A minor has no account without a guardian: invite the guardian first."
        )


def withdraw_invitation(*, actor: User, welcome: Welcome, now: datetime) -> Welcome:
    """Withdraws an invitation, so that its link no longer works.

    Refused("already-ended") where it is used, expired or void.
    """
    require_admin(actor)
    rows = Welcome.objects.filter(pk=welcome.pk)
    list(rows.select_for_update(no_key=True).values_list("pk"))
    if not rows.usable(now).exists():
        raise Refused("already-ended", "This invitation is no longer open.")
    void(rows, now=now)
    record(actor=actor, verb="withdrew invitation", thing=welcome, fields=["good_until"], now=now)
    return rows.get()


def void(rows: QuerySet[Welcome], *, now: datetime) -> None:
    """Ends these invitations. Emails that have not been sent are withdrawn where their link now
    opens nothing at all.
    """
    links = set(rows.order_by().values_list("secret_digest", flat=True))
    rows.update(good_until=now)
    if not links:
        return
    of_links = Welcome.objects.filter(secret_digest__in=links)
    links -= set(of_links.usable(now).order_by().values_list("secret_digest", flat=True))
    for pk, link in list(of_links.order_by("pk").values_list("pk", "secret_digest")):
        if link in links:
            outbox.withdraw_form(f"welcome:{pk}")
