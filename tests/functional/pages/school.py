"""The school of the page tests: small, and on purpose across a clock change, two hemispheres and a
family.
"""

from dataclasses import dataclass

from django.test import Client

from accounts.models import Instructor, Student, User
from bookings.domain.vocabulary import Kind
from bookings.models import Booking, Meeting, Offering
from tests.cast import (
    at,
    make_admin,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_policy,
    make_student,
    make_user,
    publish,
    teaches,
)


@dataclass(frozen=True)
class School:
    """Ilse teaches Mondays, Tuesdays and Fridays in Dublin; Noor has a consultation on Friday 12
    March, 12:30 in New York.
    """

    ilse: Instructor
    wren: Instructor
    noor: Student
    marlo: Student
    posy: Student
    hedda: User
    dag: User
    consultation: Offering
    group: Offering
    booking: Booking
    circle: Meeting

    def called_off(self) -> Meeting:
        """A group meeting of Ilse's that was to be on Saturday 20 March."""
        return make_meeting(
            self.group,
            self.ilse,
            at("2027-03-20T16:00Z"),
            title="Airs by ear",
            places=3,
            status="CANCELLED",
        )


def make_school(password: str | None = None) -> School:
    """Written past the rules, so that each test begins from what it needs."""
    make_policy()
    ilse = make_instructor(
        "Ilse Quarrow", "Europe/Dublin", password=password, email="ilse@rowanmere.example"
    )
    wren = make_instructor(
        "Wren Halloway", "America/New_York", password=password, email="wren@rowanmere.example"
    )
    noor = make_student("Noor Ashgrove", password=password, email="noor@rowanmere.example")
    marlo = make_student("Marlo Vance", password=password, email="marlo@rowanmere.example")
    hedda = make_user(
        "Hedda Lindqvist-Reed",
        "Australia/Sydney",
        password=password,
        email="hedda@rowanmere.example",
    )
    dag = make_admin(password=password, email="dag@rowanmere.example")
    consultation, group = make_offering(), make_offering("Group meeting", Kind.GROUP_MEETING, 60)
    teaches(ilse, consultation, group)
    teaches(wren, consultation, group)
    publish(ilse, "0 11:00-14:30, 0 15:30-20:30, 1 15:30-20:30, 4 15:30-19:30")
    return School(
        ilse=ilse,
        wren=wren,
        noor=noor,
        marlo=marlo,
        posy=make_minor(guardian=hedda),
        hedda=hedda,
        dag=dag,
        consultation=consultation,
        group=group,
        booking=make_booking(make_meeting(consultation, ilse, at("2027-03-12T17:30Z")), noor),
        circle=make_meeting(
            group, ilse, at("2027-03-13T16:00Z"), title="Placing without looking", places=1
        ),
    )


def as_user(user: User | None) -> Client:
    """A browser without JavaScript in which that person is signed in."""
    client = Client()
    if user is not None:
        client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


def text_of(response: object) -> str:
    return response.content.decode()  # type: ignore[attr-defined]
