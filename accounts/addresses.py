"""Email addresses, in lower case whichever way they come in."""

from typing import Any

from django.db import models


class AddressField(models.EmailField):
    """An email address in lower case: saved, updated in bulk and looked up alike.

    allauth looks an address up in lower case only, so one kept with capitals would let nobody in.
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
