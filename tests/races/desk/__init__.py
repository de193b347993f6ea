"""One plain model of the desk: what stands, and what each act does to it or why it is refused.

The checker of races and the simulation both play it. It is written again from the description of
the rules, and shares no code with the product.
"""
