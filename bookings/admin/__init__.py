"""The office: what an admin sees of the tables.

Meetings, bookings, messages and feeds change by operations only.
"""

from bookings.admin import meetings, outgoing, teaching

__all__ = ["meetings", "outgoing", "teaching"]
