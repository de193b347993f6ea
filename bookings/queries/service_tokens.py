"""The school's service tokens, for admins."""

from django.db.models import QuerySet

from accounts.models import User
from bookings.access import not_there, require_admin
from bookings.models import ServiceToken


def all_service_tokens(reader: User) -> QuerySet[ServiceToken]:
    """Every token, newest first, with `made_by`; those that work no more are among them.

    Refused("not-allowed") for anybody but an admin.
    """
    require_admin(reader)
    return ServiceToken.objects.select_related("made_by").order_by("-pk")


def one_service_token(reader: User, token_id: int) -> ServiceToken:
    """This token. Refused: "not-allowed", "not-found"."""
    require_admin(reader)
    found = ServiceToken.objects.select_related("made_by").filter(pk=token_id).first()
    if found is None:
        raise not_there()
    return found
