"""The office in the place of Django's own admin site."""

from django.contrib.admin.apps import AdminConfig


class OfficeConfig(AdminConfig):
    default_site = "config.office.Office"
