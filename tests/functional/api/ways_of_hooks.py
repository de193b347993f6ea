"""How the calls about other programs are refused for what is there already."""

from collections.abc import Callable

from bookings.domain.scopes import MOST_TOKENS
from bookings.models import ServiceToken, Webhook
from bookings.operations.webhooks import MOST_WEBHOOKS
from tests.functional.api import ways
from tests.functional.api.client import Reply
from tests.functional.api.matrix_hooks import HOOKS, a_hook, a_token
from tests.functional.api.world import World


def _one_more_token(world: World) -> Reply:
    first = a_token(world)
    copies = [
        ServiceToken(
            name="Another",
            digest=str(number),
            begins="levare_x",
            scopes=first.scopes,
            made_by=first.made_by,
            made_at=first.made_at,
            expires_at=first.expires_at,
        )
        for number in range(MOST_TOKENS)
    ]
    ServiceToken.objects.bulk_create(copies)
    body = HOOKS["POST", "service-tokens/"].body(world)
    return ways.admin(world).post("service-tokens/", body)


def _one_more_webhook(world: World) -> Reply:
    made = a_hook(world).made_at
    Webhook.objects.bulk_create(
        Webhook(name="Another", address="https://a.example/", made_at=made)
        for _ in range(MOST_WEBHOOKS)
    )
    return ways.admin(world).post("webhooks/", HOOKS["POST", "webhooks/"].body(world))


def _of(world: World, act: str, *, is_paused: bool) -> Reply:
    hook = a_hook(world, is_paused=is_paused)
    return ways.admin(world).post(f"webhooks/{hook.pk}/{act}/", match="*")


HOOKS_REFUSED: dict[tuple[str, str, int], Callable[[World], Reply]] = {
    ("POST", "service-tokens/", 409): _one_more_token,
    ("DELETE", "service-tokens/<id:pk>/", 409): lambda w: ways.twice(
        lambda: ways.admin(w).delete(f"service-tokens/{a_token(w).pk}/")
    ),
    ("POST", "webhooks/", 409): _one_more_webhook,
    ("POST", "webhooks/<id:pk>/pause/", 409): lambda w: _of(w, "pause", is_paused=True),
    ("POST", "webhooks/<id:pk>/resume/", 409): lambda w: _of(w, "resume", is_paused=False),
    ("POST", "webhooks/<id:pk>/test/", 409): lambda w: _of(w, "test", is_paused=True),
}
