"""Decisions for many at once: each module here states one problem and solves it exactly.

Nothing here reads a row or a clock: a problem and its answer are frozen plain values. Only
`planning.highs` imports the solver.
"""
