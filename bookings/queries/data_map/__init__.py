"""What is stored of people: every column of every table, what it is, and what becomes of it.

Export and erasure are made from this map. A test compares it with the models, so that a new column
needs an entry.
"""

from bookings.queries.data_map.lessons import LESSONS
from bookings.queries.data_map.notes import NOTES
from bookings.queries.data_map.people import PEOPLE
from bookings.queries.data_map.records import RECORDS
from bookings.queries.data_map.school import SCHOOL
from bookings.queries.data_map.table import Erased, Table, emptied

__all__ = ["DATA_MAP", "Erased", "Table", "emptied"]

DATA_MAP = (*PEOPLE, *LESSONS, *NOTES, *RECORDS, *SCHOOL)
