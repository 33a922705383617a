"""How answers show themselves: verdicts, tables, and the rounding of numbers."""
