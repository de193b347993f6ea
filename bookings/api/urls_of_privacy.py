"""The addresses of a person's own data. Ids are as in `urls_of_plans`."""

from django.urls import path

from bookings.api import own_data

own_data_of_people = [
    path("students/<id:pk>/export/", own_data.Exporting.as_view(), name="students-export"),
    path(
        "students/<id:pk>/access-export/",
        own_data.AccessExport.as_view(),
        name="students-access-export",
    ),
    path("students/<id:pk>/privacy/", own_data.Privacy.as_view(), name="students-privacy"),
    path(
        "students/<id:pk>/privacy/approve/",
        own_data.ApprovingPrivacy.as_view(),
        name="students-privacy-approve",
    ),
    path(
        "students/<id:pk>/privacy/take-back/",
        own_data.TakingBackPrivacy.as_view(),
        name="students-privacy-take-back",
    ),
]
