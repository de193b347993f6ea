"""The addresses of what other programs of the school are given: tokens and webhooks."""

from django.urls import path

from bookings.api import service_tokens, webhooks
from bookings.api.converters import register_ids

register_ids()

calls_of_programs = [
    path("service-tokens/", service_tokens.ServiceTokens.as_view(), name="service-tokens-list"),
    path(
        "service-tokens/<id:pk>/",
        service_tokens.OneServiceToken.as_view(),
        name="service-tokens-detail",
    ),
    path("webhooks/", webhooks.Webhooks.as_view(), name="webhooks-list"),
    path("webhooks/<id:pk>/", webhooks.OneWebhook.as_view(), name="webhooks-detail"),
    path(
        "webhooks/<id:pk>/renew-secret/",
        webhooks.RenewingSecret.as_view(),
        name="webhooks-renew-secret",
    ),
    path("webhooks/<id:pk>/pause/", webhooks.PausingWebhook.as_view(), name="webhooks-pause"),
    path("webhooks/<id:pk>/resume/", webhooks.ResumingWebhook.as_view(), name="webhooks-resume"),
    path("webhooks/<id:pk>/test/", webhooks.TestingWebhook.as_view(), name="webhooks-test"),
    path(
        "webhooks/<id:pk>/attempts/", webhooks.WebhookAttempts.as_view(), name="webhooks-attempts"
    ),
]
