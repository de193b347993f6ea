"""The addresses of what a school is made of: offerings, rules, terms."""

from django.urls import path

from bookings.pages import offerings, policies, setting_up, techniques, terms

school_pages = [
    path("setting-up/", setting_up.setting_up, name="setting-up"),
    path("policy/", policies.policy, name="policy"),
    path("policy/new/", policies.new, name="new-policy"),
    path("terms/", terms.terms, name="terms"),
    path("terms/<int:term_id>/", terms.term, name="term"),
    path("techniques/", techniques.techniques, name="techniques"),
    path(
        "techniques/<int:offering_id>/", techniques.offering_techniques, name="offering-techniques"
    ),
    path("offerings/", offerings.offerings, name="offerings"),
    path("offerings/new/", offerings.new, name="new-offering"),
    path("offerings/<int:offering_id>/", offerings.offering, name="offering"),
    path("offerings/<int:offering_id>/teachers/", offerings.teachers, name="offering-teachers"),
]
