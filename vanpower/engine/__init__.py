"""Volts and amps of cells, substrings, panels and arrays; numpy alone, and no word of rigs."""
