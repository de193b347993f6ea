"""The addresses of what an admin does for people, beside those in `urls`."""

from django.urls import path

from bookings.pages import addresses, bringing_in, picking

more_of_people = [
    path("people/find/", picking.find_people, name="find-people"),
    path("people/bring-in/", bringing_in.choose_file, name="bring-in"),
    path("people/bring-in/sample.csv", bringing_in.sample, name="people-sample"),
    path("people/bring-in/<uuid:file_id>/", bringing_in.people_file, name="people-file"),
    path("people/bring-in/<uuid:file_id>/faults.csv", bringing_in.faults, name="people-faults"),
    path("people/accounts/<int:user_id>/address/", addresses.new_address, name="account-address"),
    path(
        "people/accounts/<int:user_id>/address/withdraw/",
        addresses.withdraw,
        name="withdraw-address",
    ),
    path("new-address/<str:secret>/", addresses.confirm, name="new-address"),
]
