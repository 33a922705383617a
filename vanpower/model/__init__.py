"""One rig in given conditions: light on its cells, the curves of its panels and arrays, and every lost watt by name."""
