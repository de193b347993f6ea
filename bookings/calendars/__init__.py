"""Pure translation to and from iCalendar; the only importer of icalendar.

No Django, no clock, no I/O.
"""
