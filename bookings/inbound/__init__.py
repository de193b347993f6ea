"""Reads foreign calendars and answers by email. Nothing here knows a table or a person."""
