"""The part of the authorisation matrix that is about what other programs are given."""

from bookings.domain.events import Event
from bookings.domain.standard_webhooks import new_signing_secret
from bookings.models import ServiceToken, Webhook
from tests.cast import NOW
from tests.functional.api.matrix_rows import Route
from tests.functional.api.program import Program
from tests.functional.api.school import School
from tests.functional.api.world import World

ADMINS = (403, 403, 403, 403, 403)


def a_hook(world: World | School, *, is_paused: bool = False) -> Webhook:
    """A webhook that is told of statements alone, made once, and another one that is paused."""
    name = "Paused" if is_paused else "Accounting"
    found = Webhook.objects.filter(name=name).first()
    if found is not None:
        return found
    pause = {"paused_at": NOW, "paused_why": Webhook.Paused.GONE} if is_paused else {}
    made = Webhook(
        name=name,
        address="https://books.rowanmere.example/told",
        kinds=[Event.STATEMENT_ISSUED.value],
        made_at=NOW,
        **pause,
    )
    made.secret = new_signing_secret()
    made.save()
    for number in (1, 2):
        made.attempts.create(
            event_id=f"evt_{number}", kind="statement.issued", number=1, at=NOW, status=204,
            milliseconds=40,
        )  # fmt: skip
    return made


def a_token(world: World) -> ServiceToken:
    """A service token, made once."""
    found = ServiceToken.objects.first()
    return found or Program(world.school.dag, "read-calendar").token  # type: ignore[arg-type]


HOOKS: dict[tuple[str, str], Route] = {
    ("GET", "service-tokens/"): Route(lambda w: "service-tokens/", (*ADMINS, 200)),
    ("POST", "service-tokens/"): Route(
        lambda w: "service-tokens/",
        (*ADMINS, 201),
        lambda w: {"name": "Reception desk", "scopes": ["read-calendar"], "days": 30},
    ),
    ("GET", "service-tokens/<id:pk>/"): Route(
        lambda w: f"service-tokens/{a_token(w).pk}/", (*ADMINS, 200)
    ),
    ("DELETE", "service-tokens/<id:pk>/"): Route(
        lambda w: f"service-tokens/{a_token(w).pk}/", (*ADMINS, 204)
    ),
    ("GET", "webhooks/"): Route(lambda w: "webhooks/", (*ADMINS, 200)),
    ("POST", "webhooks/"): Route(
        lambda w: "webhooks/",
        (*ADMINS, 201),
        lambda w: {
            "name": "Reception",
            "address": "https://desk.rowanmere.example/told",
            "kinds": ["booking.made"],
        },
    ),
    ("GET", "webhooks/<id:pk>/"): Route(lambda w: f"webhooks/{a_hook(w).pk}/", (*ADMINS, 200)),
    ("PATCH", "webhooks/<id:pk>/"): Route(
        lambda w: f"webhooks/{a_hook(w).pk}/", (*ADMINS, 200), lambda w: {"name": "Books"}
    ),
    ("DELETE", "webhooks/<id:pk>/"): Route(lambda w: f"webhooks/{a_hook(w).pk}/", (*ADMINS, 204)),
    ("POST", "webhooks/<id:pk>/renew-secret/"): Route(
        lambda w: f"webhooks/{a_hook(w).pk}/renew-secret/", (*ADMINS, 200)
    ),
    ("POST", "webhooks/<id:pk>/pause/"): Route(
        lambda w: f"webhooks/{a_hook(w).pk}/pause/", (*ADMINS, 200)
    ),
    ("POST", "webhooks/<id:pk>/resume/"): Route(
        lambda w: f"webhooks/{a_hook(w, is_paused=True).pk}/resume/", (*ADMINS, 200)
    ),
    ("POST", "webhooks/<id:pk>/test/"): Route(
        lambda w: f"webhooks/{a_hook(w).pk}/test/", (*ADMINS, 200)
    ),
    ("GET", "webhooks/<id:pk>/attempts/"): Route(
        lambda w: f"webhooks/{a_hook(w).pk}/attempts/", (*ADMINS, 200)
    ),
}
