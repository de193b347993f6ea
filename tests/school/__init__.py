"""The schools of the tests, each for one subject; tests/cast.py makes their people."""
