"""Every address of the product, by interface."""

from django.conf import settings
from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("api/", include("bookings.api.urls")),
    path("calendar/", include("bookings.feeds")),
    path("health/", include("bookings.health")),
    path("accounts/", include("allauth.urls")),
    path("office/", admin.site.urls),
    path("", include("bookings.pages.urls")),
]
if settings.METRICS_ON:
    urlpatterns.insert(0, path("metrics/", include("bookings.metrics")))

handler429 = "config.failing.too_many_requests"  # the account library asks for it
handler500 = "config.failing.server_error"
