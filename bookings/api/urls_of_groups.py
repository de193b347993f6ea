"""The addresses by which those who run a group meeting decide whether it runs and who waits."""

from django.urls import path

from bookings.api import minimums, waiting_exceptions, wrap_up_group
from bookings.api.converters import register_ids

register_ids()

group_acts = [
    path(
        "meetings/<id:pk>/waiting-list/add/",
        waiting_exceptions.AddingToList.as_view(),
        name="meetings-waiting-list-add",
    ),
    path(
        "meetings/<id:pk>/waiting-list/hold-next/",
        waiting_exceptions.HoldingNext.as_view(),
        name="meetings-waiting-list-hold-next",
    ),
    path(
        "meetings/<id:pk>/waiting-list/let-go/",
        waiting_exceptions.LettingGo.as_view(),
        name="meetings-waiting-list-let-go",
    ),
    path(
        "meetings/<id:pk>/waiting-list/remove/",
        waiting_exceptions.RemovingFromList.as_view(),
        name="meetings-waiting-list-remove",
    ),
    path(
        "meetings/<id:pk>/wrap-up/",
        wrap_up_group.GroupWrapUp.as_view(),
        name="meetings-wrap-up",
    ),
    path(
        "meetings/<id:pk>/wrap-up/release/",
        wrap_up_group.ReleasingGroup.as_view(),
        name="meetings-wrap-up-release",
    ),
    path("meetings/<id:pk>/minimum/", minimums.OneMinimum.as_view(), name="meetings-minimum"),
    path("meetings/<id:pk>/it-runs/", minimums.Running.as_view(), name="meetings-it-runs"),
]
