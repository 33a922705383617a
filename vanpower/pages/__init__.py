"""Pages in a browser.

answers  What a rig is worth, in HTML: finding, wirings ranked, checks, power chart; in the words of the command line.
boxes    The boxes of the form "my van": label, unit, help, and what is typical, field by field.
entries  From a rig to what stands in the boxes, and from what is typed back to a rig; nothing else of it changes.
form     The form "my van": what is typed becomes a rig, is judged, and is saved whole.
slips    What is wrong with what was typed, in the form's own labels, and the cure where there is one.
typical  Values that are offered where a box is left empty, and where they come from.
"""

from __future__ import annotations
