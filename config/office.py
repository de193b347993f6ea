"""The office as a site: the school's own tables, each narrowed only by what its list offers."""

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
    """A list is narrowed by its own filters and dates; Django would take a password's hash too."""

    def lookup_allowed(self, lookup: str, value: str, request: HttpRequest | None = None) -> bool:
        filters = self.list_filter if request is None else self.get_list_filter(request)
        offered = {name for each in filters for name in _parameters(each)}
        if self.date_hierarchy:
            offered |= {f"{self.date_hierarchy}__{part}" for part in ("year", "month", "day")}
        return lookup in offered


def _parameters(each: Any) -> tuple[str, ...]:
    """The parameters of one filter, as Django's own filters name them."""
    if isinstance(each, type) and issubclass(each, SimpleListFilter):
        return (str(each.parameter_name),)
    name = each[0] if isinstance(each, (list, tuple)) else each
    return (name, f"{name}__exact", f"{name}__isnull", f"{name}__id__exact")


def _led_on(request: HttpRequest) -> HttpResponse:
    return redirect("admin:index")


class Office(AdminSite):
    """Shows no library's table, whatever the library registers, and has no door of its own."""

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
        # First in line, so that no table of ours has to remember the rule.
        narrow = type(table.__name__, (OfferedLookups, table), {"__module__": table.__module__})
        super().register(ours, narrow, **options)

    def login(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        """Sign-in, with its second factor, is the pages': guesses are counted there. Whoever is in is led on."""
        return secure_admin_login(_led_on)(request)

    # The stubs know only of templates; Django's own view redirects too.
    def password_change(  # type: ignore[override]
        self, request: HttpRequest, extra_context: Any = None
    ) -> HttpResponse:
        """The pages' form writes an email and ends tokens; this site's would not."""
        return redirect("account_change_password")

    def password_change_done(  # type: ignore[override]
        self, request: HttpRequest, extra_context: Any = None
    ) -> HttpResponse:
        return redirect("account_change_password")
