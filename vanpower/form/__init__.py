"""The form "my van": a person types what stands on labels, and it is saved as the one file that all else reads.

`boxes` has label, unit and help of every field, `typical` values and their sources, `entries` goes from a rig to what
stands in the boxes and back, `slips` says what is wrong in the form's own labels, `desk` holds boxes and file together,
`answers` what the rig is worth in the words of the command line, and `form` is the widget.

Left out: the fields that `boxes.KEPT` names; a file that has them keeps them as they are.
"""

from __future__ import annotations

from vanpower.form.form import MyVan, my_van

__all__ = ["MyVan", "my_van"]
