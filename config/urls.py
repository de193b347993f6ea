"""Every address of the product, by interface."""

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

handler500 = "config.failing.server_error"
