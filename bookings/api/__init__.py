"""HTTP API, version 1: the only door to the REST framework."""
