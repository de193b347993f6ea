"""People in the office, to read only. The pages under People change them, through operations."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from accounts.models import Guardianship, Instructor, Student, User


class OnPages:
    """Forbids adding, changing and deleting: Django's forms would bypass the rules, the audit and
    the emails.
    """

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def link(name: str, key: int) -> SafeString:
    """A link to the page that changes the row."""
    return format_html('<a href="{}">Change on its page</a>', reverse(name, args=[key]))


@admin.register(User)
class UserAdmin(OnPages, admin.ModelAdmin):
    """Accounts."""

    list_display = ["name", "email", "time_zone", "is_active", "is_staff", "page"]
    list_filter = ["is_active", "is_staff"]
    search_fields = ["name"]
    fields = ["name", "email", "time_zone", "is_active", "is_staff", "joined_at", "last_login"]

    @admin.display(description="page")
    def page(self, user: User) -> SafeString:
        return link("account", user.pk)


@admin.register(Instructor)
class InstructorAdmin(OnPages, admin.ModelAdmin):
    list_display = ["user", "is_active", "page"]
    list_select_related = ["user"]
    search_fields = ["user__name"]

    @admin.display(description="page")
    def page(self, instructor: Instructor) -> SafeString:
        return link("account", instructor.user_id)


class GuardianshipInline(OnPages, admin.TabularInline):
    model = Guardianship
    extra = 0
    fields = ["guardian", "consent_at", "consent_wording", "barred_at", "barred_by", "barred_why"]


@admin.register(Student)
class StudentAdmin(OnPages, admin.ModelAdmin):
    list_display = ["full_name", "level", "unit", "adult_on", "is_active", "page"]
    list_filter = ["is_active", "level"]
    list_select_related = ["user"]
    search_fields = ["user__name", "own_name"]
    inlines = [GuardianshipInline]

    @admin.display(description="page")
    def page(self, student: Student) -> SafeString:
        return link("student", student.pk)
