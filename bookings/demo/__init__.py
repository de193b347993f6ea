"""The invented school and the story told about it over HTTP."""
