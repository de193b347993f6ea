"""People: inviting them, and the guardian's consent that a minor's lessons need."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Q

from accounts.models import Guardianship, Instructor, Student, User, Welcome, digest, new_secret
from bookings import notices, outbox
from bookings.access import own_students
from bookings.domain.errors import Refused
from bookings.domain.policy import check_minor, is_minor
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import LIVE, Booking, Meeting, OutboxMessage, StudioPolicy
from bookings.operations.audit import record
from bookings.operations.locks import lock_students

WELCOME_LASTS = timedelta(days=14)


def has_consent(student: Student, *, now: datetime) -> bool:
    """Whether live lessons may be booked: an adult, or a minor one of whose guardians, with an account still open, has consented."""
    if not is_minor(student.adult_on, now.astimezone(zone(student.zone)).date()):
        return True
    return Guardianship.objects.filter(
        student=student, consent_at__isnull=False, guardian__is_active=True
    ).exists()


def check_consent(student: Student, *, now: datetime) -> None:
    """Refused("consent-missing") for a minor without it; the refusal sets off one request to her guardians."""
    if not has_consent(student, now=now):
        raise Refused(
            "consent-missing",
            f"{student.first_name} is under age and no guardian's consent is on file. "
            "We have written to the guardian; book once it is given.",
            student=student.pk,
        )


def check_hours(student: Student, meeting: Meeting, policy: StudioPolicy) -> None:
    """Refused("minor-hours") for somebody who is a minor on that day where it is too early or too late for her."""
    if is_minor(student.adult_on, meeting.starts_at.astimezone(zone(student.zone)).date()):
        check_minor(Period(meeting.starts_at, meeting.ends_at), student.zone, policy.rules())


def ask_for_consent(*, student_id: int, now: datetime) -> bool:
    """One request to each guardian who has not consented, once for each wording; whether any was written."""
    messages = []
    silent = Guardianship.objects.filter(
        student=student_id, consent_at__isnull=True, guardian__is_active=True
    )
    waiting = silent.select_for_update(no_key=True, of=("self",))
    for guardianship in waiting.select_related("guardian", "student").order_by("pk"):
        # The secret lives in the mailed form's address only: while that form is open its request is not repeated.
        mailed = OutboxMessage.objects.filter(
            kind="consent", subject_key=f"guardianship:{guardianship.pk}"
        )
        if (
            guardianship.consent_digest
            and mailed.filter(state_key=notices.consent_state(guardianship)).exists()
        ):
            continue
        secret = new_secret()
        guardianship.consent_digest = digest(secret)
        guardianship.save(update_fields=["consent_digest"])
        messages += notices.consent_asked(guardianship, secret=secret, now=now)
    outbox.enqueue(messages, now=now)
    return bool(messages)


def guardianship_by_secret(secret: str) -> Guardianship:
    """The guardianship a mailed consent form is about; "not-found" for any other secret."""
    open_forms = Guardianship.objects.select_related("guardian", "student").filter(
        guardian__is_active=True
    )
    found = open_forms.filter(consent_digest=digest(secret)).first()
    if found is None or not secret:
        raise Refused("not-found", "This form is no longer open. Ask the school for a new one.")
    return found


def give_consent(*, secret: str, wording: str, now: datetime) -> Guardianship:
    """The guardian's own act, by the form mailed to her: dated, with the version of the wording she agreed to."""
    guardianship = guardianship_by_secret(secret)
    if guardianship.consent_at is None:
        guardianship.consent_at, guardianship.consent_wording = now, wording
        guardianship.save(update_fields=["consent_at", "consent_wording"])
        record(
            actor=guardianship.guardian,
            verb="consented",
            thing=guardianship,
            fields=["consent_at", "consent_wording"],
            now=now,
        )
    return guardianship


def withdraw_consent(*, actor: User, guardianship: Guardianship, now: datetime) -> Guardianship:
    """The guardian takes her consent back; what is booked stays until she or the school cancels it."""
    guardianship.consent_at, guardianship.consent_wording, guardianship.consent_digest = (
        None,
        "",
        "",
    )
    guardianship.save(update_fields=["consent_at", "consent_wording", "consent_digest"])
    record(actor=actor, verb="withdrew consent", thing=guardianship, fields=["consent_at"], now=now)
    return guardianship


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
    """A letter with a form that makes one account, once, within two weeks. Asking again sends a new letter."""
    if student is not None and student.user_id is not None:
        raise Refused("already-done", "This student has an account already.")
    if (
        student is not None
        and is_minor(student.adult_on, now.date())
        and not student.guardianships.exists()
    ):
        raise Refused(
            "not-allowed", "A minor has no account without a guardian: invite the guardian first."
        )
    if (
        student is not None
    ):  # one account: a letter that went to a mistyped address opens nothing any more
        Welcome.objects.filter(student=student, used_at__isnull=True, good_until__gt=now).update(
            good_until=now
        )
    secret = new_secret()
    welcome = Welcome.objects.create(
        email=email.strip().lower(),
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
        Welcome.objects.select_related("student", "guardian_of")
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
    # Locked first and read after: of two that come by one letter the second finds it used.
    list(Welcome.objects.select_for_update().filter(secret_digest=digest(secret)).values_list("pk"))
    welcome = welcome_by_secret(secret, now=now)
    zone(time_zone)
    user = User.objects.filter(email__iexact=welcome.email).first()
    learns_already = user is not None and Student.objects.filter(user=user).exists()
    if welcome.student is not None and (welcome.student.user_id is not None or learns_already):
        raise Refused(
            "already-done",
            "This student, or this address, has a student's account already. Ask the school for another letter.",
        )
    if user is None:
        user = User.objects.create_user(
            welcome.email, password, name=name, time_zone=time_zone, joined_at=now
        )
    if welcome.as_admin:
        user.is_staff = user.is_superuser = True
        user.save(update_fields=["is_staff", "is_superuser"])
    if welcome.as_instructor:
        Instructor.objects.get_or_create(user=user)
    if welcome.student is not None:
        welcome.student.user = user
        welcome.student.save(update_fields=["user"])
    if welcome.guardian_of is not None:
        Guardianship.objects.get_or_create(guardian=user, student=welcome.guardian_of)
    welcome.used_at = now
    welcome.save(update_fields=["used_at"])
    record(actor=user, verb="came in", thing=welcome, now=now)
    return user


def lock_me(actor: User) -> tuple[dict[int, Student], User]:
    """The students one acts for, and oneself, locked in that order and as they stand."""
    students = lock_students(own_students(actor).values_list("pk", flat=True))
    return students, User.objects.select_for_update(no_key=True).get(pk=actor.pk)


def change_me(
    *, actor: User, name: str | None = None, time_zone: str | None = None, now: datetime
) -> User:
    """One's own name and clock. Meetings keep their instants; what is shown and mailed from now on is on the new clock.

    What has been written ahead too: it is told anew. The students' locks keep whoever books for her meanwhile from
    writing on the old clock.
    """
    students, user = lock_me(actor)
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
