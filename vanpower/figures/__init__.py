"""Charts: results in, one Axes drawn and returned.

They compute only what the pen needs, and leave showing and saving to the caller.
"""
