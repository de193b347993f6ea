"""A small school under a fake clock: one seed decides every step, a plain model says what each must
do, and faults are thrown in.
"""
