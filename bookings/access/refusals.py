"""What every door says: what is not yours and what is not there look the same, 404."""

from accounts.models import User
from bookings.domain.errors import Refused


def not_there() -> Refused:
    return Refused("not-found", "There is nothing at this address that you may see.")


def require_admin(user: User) -> None:
    """Refuses whoever is not an admin."""
    if not user.is_staff:
        raise Refused("not-allowed", "Only an admin can do this.")
