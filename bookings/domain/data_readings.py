"""What somebody of the school may read of a person’s data, as the record of it says."""

from enum import StrEnum


class DataRead(StrEnum):
    """What was read. Notes have a record of their own."""

    HEALTH = "health"
    """What a student says hurts."""
    EXPORT = "export"
    ACCESS = "access-export"
