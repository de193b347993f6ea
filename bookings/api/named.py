"""Whom and what a body or a query string names by id. What is not there and what one may not see
are missed alike, at the name."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from accounts.models import Instructor, Student, User
from bookings import access
from bookings.domain.errors import Refused
from bookings.models import Meeting, MoveRequest, Offering, OwedLesson, Term
from bookings.queries import offerings
from bookings.queries.teaching import teacher


def absent(field: str) -> Refused:
    """The refusal of an id that leads nowhere, pointing at the member or parameter of that
    name.
    """
    return Refused("not-found", "That id leads to nothing that you may see.", field=field)


@contextmanager
def pointing_at(field: str) -> Iterator[None]:
    """What is not found inside was named by `field`."""
    try:
        yield
    except Refused as refusal:
        if refusal.code != "not-found":
            raise
        raise absent(field) from None


def named_student(user: User, sent: Mapping[str, Any], *, now: datetime) -> Student:
    """The student that `sent` names, or the one understood; an admin, who acts for all, names
    one."""
    named = sent.get("student")
    if named is None and user.is_staff and not access.own_students(user, now=now):
        raise Refused("invalid", "Name the student whom this is about.", field="student")
    with pointing_at("student"):
        return access.access_student(user, named, now=now)


def named_student_to_book(user: User, sent: Mapping[str, Any], *, now: datetime) -> Student:
    """As `named_student`, and for an instructor also a student whom they teach."""
    if sent.get("student") is None:
        return named_student(user, sent, now=now)
    with pointing_at("student"):
        return access.access_student_to_book(
            user, sent["student"], instructor_id=sent["instructor"], now=now
        )


def named_move_request(user: User, sent: Mapping[str, Any], *, now: datetime) -> MoveRequest:
    """The request to move that `sent` names, for whoever answers it."""
    with pointing_at("move_request"):
        return access.access_move_request(user, sent["move_request"], to_answer=True, now=now)


def named_owed_lesson(user: User, sent: Mapping[str, Any], *, now: datetime) -> OwedLesson:
    """The owed lesson that `sent` wants to make up."""
    with pointing_at("owed_lesson"):
        return access.access_owed_lesson(user, sent["owed_lesson"], now=now)


def whose_time(user: User, sent: Mapping[str, Any]) -> Instructor:
    """The instructor whose time `sent` is about, oneself where it names nobody; an admin names
    one."""
    named = sent.get("instructor")
    if named is None and user.is_staff and access.instructor_of(user) is None:
        raise Refused("invalid", "Name the instructor whom this is about.", field="instructor")
    with pointing_at("instructor"):
        return access.access_instructor(user, named)


def named_meeting(user: User, sent: Mapping[str, Any], *, now: datetime) -> Meeting:
    """The meeting that `sent` names."""
    with pointing_at("meeting"):
        return access.access_meeting(user, sent["meeting"], now=now)


def named_instructor(instructor_id: int) -> Instructor:
    """An instructor who teaches now."""
    with pointing_at("instructor"):
        return teacher(instructor_id)


def named_regular_instructor(instructor_id: int) -> Instructor:
    """The same, where a student's record names them."""
    with pointing_at("regular_instructor"):
        return teacher(instructor_id)


def open_offering(offering_id: int) -> Offering:
    """An offering that can be booked."""
    found = offerings.open_offering(offering_id)
    if found is None:
        raise absent("offering")
    return found


def named_term(term_id: int) -> Term:
    """The term that a request names."""
    with pointing_at("term"):
        return access.access_term(term_id)
