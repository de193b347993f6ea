"""The addresses of what is owed, the accounts of a term, and statements of hours."""

from django.urls import path

from bookings.pages import owed, statements, term_accounts, week_use

books = [
    path("terms/<int:term_id>/accounts/", term_accounts.term_accounts, name="term-accounts"),
    path(
        "terms/<int:term_id>/accounts.csv",
        term_accounts.term_accounts_file,
        name="term-accounts-file",
    ),
    path(
        "terms/<int:term_id>/accounts/<int:student_id>/",
        term_accounts.term_account,
        name="term-account",
    ),
    path("owed/<int:owed_id>/", owed.owed_lesson, name="owed-lesson"),
    path("statements/", statements.statements, name="statements"),
    path("statements/new/", statements.new_statement, name="new-statement"),
    path("statements/<int:statement_id>/", statements.statement, name="statement"),
    path("statements/<int:statement_id>/correct/", statements.correct, name="correct-statement"),
    path("statements/<int:statement_id>/csv/", statements.download, name="statement-csv"),
    path("hours/weeks/", week_use.hours_by_week, name="hours-by-week"),
]
