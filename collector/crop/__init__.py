"""What the crop needs and how far it has come: numbers in, numbers out.

Every threshold is a `Limit` with its unit, its evidence and its source, gathered in frozen values that a caller may
replace. Missing is None or NaN and is told; it is never taken for fine. Nothing here reads a clock, a file or a wire, and
the soil is not known here: its temperatures come as numbers.
"""
