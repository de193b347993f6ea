"""The addresses of the pages about other programs of the school."""

from django.urls import path

from bookings.pages import programs, webhooks

programs_pages = [
    path("programs/", programs.programs, name="programs"),
    path("programs/tokens/new/", programs.new_token, name="new-token"),
    path("programs/tokens/<int:token_id>/revoke/", programs.revoke_token, name="revoke-token"),
    path("programs/told/new/", webhooks.new, name="new-webhook"),
    path("programs/told/<int:webhook_id>/", webhooks.webhook, name="webhook"),
    path("programs/told/<int:webhook_id>/change/", webhooks.change, name="change-webhook"),
    path("programs/told/<int:webhook_id>/secret/", webhooks.secret, name="webhook-secret"),
    path("programs/told/<int:webhook_id>/remove/", webhooks.remove, name="remove-webhook"),
    path("programs/told/<int:webhook_id>/test/", webhooks.test, name="test-webhook"),
    path("programs/told/<int:webhook_id>/pause/", webhooks.pause, name="pause-webhook"),
    path("programs/told/<int:webhook_id>/resume/", webhooks.resume, name="resume-webhook"),
]
