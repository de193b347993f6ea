"""An offering by its address: everybody may read what it is, and admins change it."""

from bookings.access.refusals import not_there
from bookings.models import Offering


def access_offering(offering_id: int) -> Offering:
    """The offering with this id, open or not. Refused("not-found")."""
    found = Offering.objects.filter(pk=offering_id).first()
    if found is None:
        raise not_there()
    return found
