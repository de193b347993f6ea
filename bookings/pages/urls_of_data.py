"""The addresses of the pages about a person's own data."""

from django.urls import path

from bookings.pages import own_data, privacy_requests, retention

data_of_people = [
    path("retention/", retention.retention, name="retention"),
    path("students/<int:student_id>/data/", own_data.own_data, name="own-data"),
    path("students/<int:student_id>/data/export/", own_data.export, name="export-data"),
    path("students/<int:student_id>/data/access/", own_data.ask_access, name="ask-access"),
    path("students/<int:student_id>/data/access/file/", own_data.access_file, name="access-file"),
    path(
        "students/<int:student_id>/data/access/approve/",
        privacy_requests.approve_access,
        name="approve-access",
    ),
    path(
        "students/<int:student_id>/data/access/take-back/",
        privacy_requests.take_back_access,
        name="take-back-access",
    ),
    path("students/<int:student_id>/data/erase/", own_data.erase, name="erase-data"),
    path(
        "students/<int:student_id>/data/erase/approve/",
        privacy_requests.approve_erasure,
        name="approve-erasure",
    ),
    path(
        "students/<int:student_id>/data/erase/take-back/",
        privacy_requests.take_back_erasure,
        name="take-back-erasure",
    ),
]
