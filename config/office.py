"""The office as an admin site: the school's own tables, each filtered only by the filters of its
list.
"""

from collections.abc import Iterable
from typing import Any

from allauth.account.decorators import secure_admin_login
from django.conf import settings
from django.contrib.admin import AdminSite, ModelAdmin
from django.contrib.admin.filters import SimpleListFilter
from django.db.models import Model
from django.db.models.base import ModelBase
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

OURS = frozenset({"accounts", "bookings"})


class OfferedLookups(ModelAdmin):
    """Allows a list only its own filters and dates.

    Django would also filter by a password's hash.
    """

    def lookup_allowed(self, lookup: str, value: str, request: HttpRequest | None = None) -> bool:
        filters = self.list_filter if request is None else self.get_list_filter(request)
        offered = {name for each in filters for name in _parameters(each)}
        if self.date_hierarchy:
            offered |= {f"{self.date_hierarchy}__{part}" for part in ("year", "month", "day")}
        return lookup in offered


def _parameters(each: Any) -> tuple[str, ...]:
    """The query parameters of one filter, named as Django names them."""
    if isinstance(each, type) and issubclass(each, SimpleListFilter):
        return (str(each.parameter_name),)
    name = each[0] if isinstance(each, (list, tuple)) else each
    return (name, f"{name}__exact", f"{name}__isnull", f"{name}__id__exact")


def _led_on(request: HttpRequest) -> HttpResponse:
    return redirect("admin:index")


class Office(AdminSite):
    """Shows only the school's own tables, and leaves sign-in and passwords to the pages."""

    site_header = site_title = settings.SCHOOL_NAME
    index_title = "Office"

    def register(
        self,
        model_or_iterable: type[Model] | Iterable[type[Model]],
        admin_class: type[ModelAdmin] | None = None,
        **options: Any,
    ) -> None:
        models = (
            [model_or_iterable] if isinstance(model_or_iterable, ModelBase) else model_or_iterable
        )
        ours = [model for model in models if model._meta.app_label in OURS]
        table = admin_class or ModelAdmin
        # The mixin comes first, so that every table gets the rule.
        narrow = type(table.__name__, (OfferedLookups, table), {"__module__": table.__module__})
        super().register(ours, narrow, **options)

    def login(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        """Sends to the pages' sign-in with its second factor, where guesses are counted.

        A signed-in admin goes on.
        """
        return secure_admin_login(_led_on)(request)

    # The stubs expect a template response; Django's own view redirects too.
    def password_change(  # type: ignore[override]
        self, request: HttpRequest, extra_context: Any = None
    ) -> HttpResponse:
        """Sends to the pages' form, which also writes an email and ends tokens."""
        return redirect("account_change_password")

    def password_change_done(  # type: ignore[override]
        self, request: HttpRequest, extra_context: Any = None
    ) -> HttpResponse:
        return redirect("account_change_password")
