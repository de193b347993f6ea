"""Reads. Nothing here writes."""
