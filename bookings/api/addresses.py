"""Where things can be read, for answers that name an address."""

from django.urls import reverse


def location(name: str, pk: int) -> dict[str, str]:
    """The Location header field of one thing of the list `name`, such as "bookings"."""
    return {"Location": reverse(f"api:{name}-detail", args=[pk])}
