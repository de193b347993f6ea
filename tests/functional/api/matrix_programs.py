"""The column of the authorisation matrix for service tokens: which calls each scope opens.

Everything else is closed to every service token, whatever its scopes.
"""

from bookings.domain.scopes import Scope

Cell = tuple[str, str]

OPEN: dict[Scope, set[Cell]] = {
    Scope.READ_PEOPLE: {
        ("GET", "instructors/"),
        ("GET", "instructors/<id:pk>/"),
        ("GET", "students/"),
        ("GET", "students/<id:pk>/"),
        ("GET", "students/<id:pk>/hours/"),
    },
    Scope.READ_CALENDAR: {
        ("GET", "bookings/"),
        ("GET", "bookings/<id:pk>/"),
        ("GET", "bookings/<id:pk>/invitation.ics"),
        ("GET", "meetings/"),
        ("GET", "meetings/<id:pk>/"),
        ("GET", "meetings/<id:pk>/agenda/"),
        ("GET", "meetings/<id:pk>/register/"),
        ("GET", "meetings/<id:pk>/roster/"),
        ("GET", "meetings/<id:pk>/waiting-list/"),
        ("GET", "move-requests/"),
        ("GET", "move-requests/<id:pk>/"),
        ("GET", "offerings/"),
        ("GET", "offerings/<id:pk>/"),
        ("GET", "offerings/<id:pk>/instructors/"),
        ("GET", "offerings/<id:pk>/techniques/"),
        ("GET", "terms/"),
        ("GET", "terms/<id:pk>/"),
        ("GET", "slots/"),
        ("GET", "slots/explain/"),
        ("GET", "teaching-hours/"),
        ("GET", "extra-hours/"),
        ("GET", "extra-hours/<id:pk>/"),
        ("GET", "days-away/"),
        ("GET", "days-away/<id:pk>/"),
        ("GET", "weekly-places/"),
        ("GET", "weekly-places/options/"),
        ("GET", "weekly-places/<id:pk>/"),
    },
    Scope.WRITE_BOOKINGS: {
        ("POST", "bookings/"),
        ("POST", "bookings/<id:pk>/cancel/"),
        ("POST", "bookings/<id:pk>/decline/"),
        ("POST", "bookings/<id:pk>/move/"),
        ("POST", "meetings/<id:pk>/roster/"),
        ("DELETE", "meetings/<id:pk>/roster/"),
        ("POST", "meetings/<id:pk>/waiting-list/"),
        ("DELETE", "meetings/<id:pk>/waiting-list/"),
        ("POST", "offers/<id:pk>/accept/"),
        ("POST", "offers/<id:pk>/decline/"),
    },
    Scope.READ_ACCOUNTS: {
        ("GET", "owed-lessons/"),
        ("GET", "owed-lessons/<id:pk>/"),
        ("GET", "statements/"),
        ("GET", "statements/<id:pk>/"),
        ("GET", "terms/<id:pk>/accounts/"),
    },
}
