"""Who is signed in when a page is asked for."""

STUDENT, OTHER, GUARDIAN, TEACHER, FOREIGN, ADMIN = (
    "student",
    "other student",
    "guardian",
    "instructor",
    "foreign instructor",
    "admin",
)
GROWN, REMOVED, BARRED = "guardian of a grown child", "removed guardian", "barred guardian"
LEARNERS = {STUDENT, OTHER, GUARDIAN}
ONCE_GUARDIANS = {GROWN, REMOVED, BARRED}
EVERYBODY = {*LEARNERS, TEACHER, FOREIGN, ADMIN, *ONCE_GUARDIANS}
