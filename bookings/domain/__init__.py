"""The pure core: the trade's rules as functions of their arguments. No Django, no clock, no I/O."""
