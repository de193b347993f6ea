"""The addresses of plans and of what they ask people."""

from django.urls import path

from bookings.api import cover_questions, exchanges, plans, wishes
from bookings.api.converters import register_ids

register_ids()

joint_decisions = [
    path("plans/", plans.Plans.as_view(), name="plans-list"),
    path("plans/<id:pk>/", plans.OnePlan.as_view(), name="plans-detail"),
    path("plans/<id:pk>/stop/", plans.StoppingPlan.as_view(), name="plans-stop"),
    path("plans/<id:pk>/adopt/", plans.AdoptingPlan.as_view(), name="plans-adopt"),
    path("plans/<id:pk>/discard/", plans.DiscardingPlan.as_view(), name="plans-discard"),
    path(
        "plans/<id:pk>/ask-substitutes/",
        plans.AskingSubstitutes.as_view(),
        name="plans-ask-substitutes",
    ),
    path("cover-questions/", cover_questions.CoverQuestions.as_view(), name="cover-questions-list"),
    path(
        "cover-questions/<id:pk>/answer/",
        cover_questions.AnsweringCoverQuestion.as_view(),
        name="cover-questions-answer",
    ),
    path("weekly-places/<id:pk>/wishes/", wishes.Wishes.as_view(), name="weekly-places-wishes"),
    path("exchanges/", exchanges.Exchanges.as_view(), name="exchanges-list"),
    path("exchanges/<id:pk>/", exchanges.OneExchange.as_view(), name="exchanges-detail"),
    path(
        "exchanges/<id:pk>/accept/", exchanges.AcceptingExchange.as_view(), name="exchanges-accept"
    ),
    path(
        "exchanges/<id:pk>/decline/",
        exchanges.DecliningExchange.as_view(),
        name="exchanges-decline",
    ),
]
