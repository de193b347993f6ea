"""People in the office pages."""

from django.contrib import admin

from accounts.models import Guardianship, Instructor, Student, User


@admin.register(User)
class UserAdmin(admin.ModelAdmin):
    """Who signs in. Accounts are made by invitation and passwords set by their owners, so neither is offered here."""

    list_display = ["name", "email", "time_zone", "is_active", "is_staff"]
    list_filter = ["is_active", "is_staff"]
    search_fields = ["name"]
    fields = ["name", "email", "time_zone", "is_active", "is_staff", "joined_at", "last_login"]
    readonly_fields = ["joined_at", "last_login"]

    def has_add_permission(self, request: object) -> bool:
        return False

    def has_delete_permission(self, request: object, obj: User | None = None) -> bool:
        return False


@admin.register(Instructor)
class InstructorAdmin(admin.ModelAdmin):
    list_display = ["user", "is_active"]
    search_fields = ["user__name"]

    def has_add_permission(self, request: object) -> bool:
        """A role is given by invitation, which ends the sessions from before it."""
        return False

    def get_readonly_fields(self, request: object, obj: Instructor | None = None) -> list[str]:
        """A teaching instructor is dismissed by the API, which sees to their meetings.

        Here a dismissed one can only come back. The account is fixed: another one would read every
        note that the instructor has written.
        """
        return ["user"] if obj is not None and not obj.is_active else ["user", "is_active"]


class GuardianshipInline(admin.TabularInline):
    model = Guardianship
    extra = 0
    autocomplete_fields = ["guardian"]
    fields = ["guardian", "consent_at", "consent_wording"]
    readonly_fields = ["consent_at", "consent_wording"]  # consent is the guardian's own act


@admin.register(Student)
class StudentAdmin(admin.ModelAdmin):
    list_display = ["first_name", "surname", "level", "unit", "adult_on"]
    list_filter = ["level"]
    search_fields = ["first_name", "surname"]
    autocomplete_fields = ["user"]
    inlines = [GuardianshipInline]
