"""Offerings, studio policies and teaching hours."""

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from bookings import clock
from bookings.admin.looking import LookOnly
from bookings.models import Offering, StudioPolicy, Teaches, TeachingHours, TeachingWeek
from bookings.queries.policies import newest_policy


class TeachesInline(admin.TabularInline):
    model = Teaches
    extra = 0

    def get_queryset(self, request: HttpRequest) -> QuerySet[Teaches]:
        return super().get_queryset(request).select_related("instructor__user", "offering")

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **options: Any) -> Any:
        """The instructors to choose from, read once for all rows."""
        field: Any = super().formfield_for_foreignkey(db_field, request, **options)
        if db_field.name == "instructor":
            field.queryset = field.queryset.select_related("user")
            field.choices = list(field.choices)
        return field


@admin.register(Offering)
class OfferingAdmin(admin.ModelAdmin):
    list_display = ["name", "kind", "minutes", "is_open"]
    list_filter = ["kind", "is_open"]
    search_fields = ["name"]
    inlines = [TeachesInline]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(StudioPolicy)
class StudioPolicyAdmin(LookOnly):
    """A change of the rules is a new version. Older bookings keep the version they came with."""

    list_display = [
        "version",
        "in_force_from",
        "lead_time_minutes",
        "horizon_days",
        "notice_minutes",
    ]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_staff)

    def get_changeform_initial_data(self, request: HttpRequest) -> dict[str, Any]:
        newest = newest_policy()
        rules = {name: getattr(newest, name) for name in newest.rules().__slots__} if newest else {}
        return {
            **rules,
            "version": newest.version + 1 if newest else 1,
            "in_force_from": clock.now(),
        }


class HoursInline(admin.TabularInline):
    model = TeachingHours
    can_delete = False
    extra = 0


@admin.register(TeachingWeek)
class TeachingWeekAdmin(LookOnly):
    list_display = ["instructor", "time_zone", "version", "changed_at"]
    list_select_related = ["instructor__user"]
    inlines = [HoursInline]
