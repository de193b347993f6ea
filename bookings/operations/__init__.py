"""Writes: verbs with keyword arguments. Each joins the transaction that the write door has opened.

Locks are taken in one order everywhere (locks.py).
"""
