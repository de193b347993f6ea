"""Offerings, studio policies and teaching hours."""

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from bookings.admin.looking import LookOnly, LookOnlyRows
from bookings.models import (
    Offering,
    StudioPolicy,
    Teaches,
    TeachingHours,
    TeachingWeek,
    Technique,
)


class TeachesInline(LookOnlyRows):
    model = Teaches

    def get_queryset(self, request: HttpRequest) -> QuerySet[Teaches]:
        return super().get_queryset(request).select_related("instructor__user", "offering")


class TechniquesInline(LookOnlyRows):
    model = Technique


@admin.register(Offering)
class OfferingAdmin(LookOnly):
    """Offerings to look up: the page Offerings makes and changes them, and says who teaches."""

    list_display = ["name", "kind", "minutes", "is_open"]
    list_filter = ["kind", "is_open"]
    search_fields = ["name"]
    inlines = [TeachesInline, TechniquesInline]


@admin.register(StudioPolicy)
class StudioPolicyAdmin(LookOnly):
    """Versions to look up: the page Studio policy adds one. Bookings keep the one they had."""

    list_display = [
        "version",
        "in_force_from",
        "lead_time_minutes",
        "horizon_days",
        "notice_minutes",
    ]


class HoursInline(admin.TabularInline):
    model = TeachingHours
    can_delete = False
    extra = 0


@admin.register(TeachingWeek)
class TeachingWeekAdmin(LookOnly):
    list_display = ["instructor", "time_zone", "keeps_hours_whole", "version", "changed_at"]
    list_select_related = ["instructor__user"]
    inlines = [HoursInline]
