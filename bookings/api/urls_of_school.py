"""The addresses of what a school is made of: offerings, rules, terms."""

from django.urls import path

from bookings.api import offerings, policies, teaching, techniques, terms
from bookings.api.converters import register_ids

register_ids()

school_calls = [
    path("offerings/", offerings.Offerings.as_view(), name="offerings-list"),
    path("policies/", policies.Policies.as_view(), name="policies-list"),
    path("offerings/<id:pk>/", offerings.OneOffering.as_view(), name="offerings-detail"),
    path("offerings/<id:pk>/techniques/", techniques.Techniques.as_view(), name="techniques"),
    path(
        "offerings/<id:pk>/instructors/",
        teaching.Teaching.as_view(),
        name="offerings-instructors",
    ),
    path("terms/", terms.Terms.as_view(), name="terms-list"),
    path("terms/<id:pk>/", terms.OneTerm.as_view(), name="terms-detail"),
]
