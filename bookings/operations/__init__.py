"""Writes: verbs with keyword arguments. Each joins the one transaction that the write door has opened.

Locks are taken in one order everywhere: instructors by id, meetings by id, students by id, feed revisions last.
"""
