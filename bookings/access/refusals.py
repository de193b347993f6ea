"""The refusals of access/."""

from accounts.models import User
from bookings.domain.errors import Refused


def not_there() -> Refused:
    """The refusal both for what a person may not see and for what does not exist: 404."""
    return Refused("not-found", "There is nothing at this address that you may see.")


def require_admin(user: User) -> None:
    """Refused("not-allowed") for anybody but an admin."""
    if not user.is_staff:
        raise Refused("not-allowed", "Only an admin can do this.")
