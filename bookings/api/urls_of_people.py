"""The addresses of people as the school has them: accounts, students, instructors."""

from django.urls import path

from bookings.api import email_troubles, instructors, my_students, school_people
from bookings.api.converters import register_ids

register_ids()

people_of_the_school = [
    path("people/", school_people.People.as_view(), name="people-list"),
    path("people/<id:pk>/", school_people.OnePerson.as_view(), name="people-detail"),
    path("people/<id:pk>/close/", school_people.ClosingPerson.as_view(), name="people-close"),
    path("people/<id:pk>/reopen/", school_people.ReopeningPerson.as_view(), name="people-reopen"),
    path(
        "students/<id:pk>/return/",
        my_students.ReturningToSchool.as_view(),
        name="students-return",
    ),
    path("email-troubles/", email_troubles.EmailTroubles.as_view(), name="email-troubles-list"),
    path(
        "email-troubles/<id:pk>/",
        email_troubles.OneEmailTrouble.as_view(),
        name="email-troubles-detail",
    ),
    path("instructors/", instructors.Instructors.as_view(), name="instructors-list"),
    path("instructors/<id:pk>/", instructors.OneInstructor.as_view(), name="instructors-detail"),
    path(
        "instructors/<id:pk>/teach-again/",
        instructors.TeachingAgain.as_view(),
        name="instructors-teach-again",
    ),
]
