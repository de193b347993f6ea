"""Who is let through to what is owed, the accounts of a term, and statements of hours."""

from tests.functional.pages.roles import ADMIN, FOREIGN, STUDENT, TEACHER

BOOKS = {
    "term-accounts": {ADMIN},
    "term-accounts-file": {ADMIN},
    "term-account": {STUDENT, ADMIN},
    "owed-lesson": {ADMIN},
    "statements": {TEACHER, FOREIGN, ADMIN},
    "new-statement": {ADMIN},
    "statement": {TEACHER, ADMIN},
    "correct-statement": {ADMIN},
    "statement-csv": {TEACHER, ADMIN},
    "hours-by-week": {TEACHER, ADMIN},
}
