"""People: accounts, instructors, students, guardians, invitations and changes of address."""

from accounts.models.address_changes import AddressChange
from accounts.models.roles import Guardianship, Instructor, InstructorQuerySet, Student
from accounts.models.users import User, digest, new_secret
from accounts.models.welcomes import Welcome

__all__ = [
    "AddressChange",
    "Guardianship",
    "Instructor",
    "InstructorQuerySet",
    "Student",
    "User",
    "Welcome",
    "digest",
    "new_secret",
]
