"""The addresses of what is owed, accounts, statements of hours, and what needs an admin."""

from django.urls import path

from bookings.api import accounts, needs, owed, statements
from bookings.api.converters import register_ids

register_ids()

books = [
    path("needs/", needs.NeedsNow.as_view(), name="needs"),
    path("owed-lessons/", owed.OwedLessons.as_view(), name="owed-lessons-list"),
    path("owed-lessons/<id:pk>/", owed.OneOwedLesson.as_view(), name="owed-lessons-detail"),
    path(
        "owed-lessons/<id:pk>/extend/",
        owed.ExtendingOwedLesson.as_view(),
        name="owed-lessons-extend",
    ),
    path(
        "owed-lessons/<id:pk>/settle/",
        owed.SettlingOwedLesson.as_view(),
        name="owed-lessons-settle",
    ),
    path(
        "owed-lessons/<id:pk>/carry/", owed.CarryingOwedLesson.as_view(), name="owed-lessons-carry"
    ),
    path("terms/<id:pk>/accounts/", accounts.Accounts.as_view(), name="terms-accounts"),
    path("statements/", statements.Statements.as_view(), name="statements-list"),
    path("statements/<id:pk>/", statements.OneStatement.as_view(), name="statements-detail"),
    path(
        "statements/<id:pk>/correct/",
        statements.CorrectingStatement.as_view(),
        name="statements-correct",
    ),
]
