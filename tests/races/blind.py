"""A server for the controls: the real application with its rule blinded, so that it sees no meeting in the way.

The one function that reads the periods taken (`queries.held_time.live_meetings`) answers that there are none. Where the
database's guard is dropped as well, nothing is left that keeps two meetings apart, and the history checker must say so.
"""

from config.wsgi import application

# isort: split
# The applications are loaded by now.
from bookings.models import Meeting
from bookings.queries import held_time

held_time.live_meetings = lambda reached, since, until: Meeting.objects.none()

__all__ = ["application"]
