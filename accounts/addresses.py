"""Email addresses, always in lower case."""

from typing import Any

from django.db import models


class AddressField(models.EmailField):
    """An email address in lower case: when saved, updated in bulk and looked up.

    allauth looks addresses up in lower case only, so a person whose address had capitals could not
    sign in.
    """

    def to_python(self, value: Any) -> Any:
        value = super().to_python(value)
        return value.lower() if isinstance(value, str) else value

    def get_prep_value(self, value: Any) -> Any:
        return self.to_python(super().get_prep_value(value))

    def pre_save(self, model_instance: models.Model, add: bool) -> Any:
        value = self.to_python(super().pre_save(model_instance, add))
        setattr(model_instance, self.attname, value)
        return value
