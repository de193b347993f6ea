"""The addresses of what needs an admin, of email addresses that cannot be reached, and of the day
of all instructors.
"""

from django.urls import path

from bookings.pages import email_troubles, needs, school_day

desk = [
    path("needs/", needs.needs, name="needs"),
    path("needs/<str:kind>/", needs.needs_of, name="needs-of"),
    path("people/addresses/<int:trouble_id>/", email_troubles.email_trouble, name="email-trouble"),
    path("me/address/", email_troubles.ask, name="ask-for-proof"),
    path("me/address/<str:proof>/", email_troubles.prove_address, name="prove-address"),
    path("today/all/", school_day.of_all, name="school-day"),
]
