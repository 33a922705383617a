"""Controls that depend on the van: made for the first one that is chosen, and set anew for the next.

A coldest dawn, a battery's volts or a list of wirings belong to a van. Left out: keeping what was set by hand when the
van changes, since it was set for another one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets

Make = Callable[[Any], ipywidgets.ValueWidget]
# from a van to its control


class OfVan:
    """A control whose ends, places or start are worked out from the van.

    Parameters
    ----------
    make : callable
        Gives the control for a rig.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.widgets import slider
    >>> coldest = slider("Coldest dawn (°C)", -40, 10, start=lambda van: van.climate.temp_coldest)
    >>> coldest.made(example("puppet-stage")).value
    -17.0
    """

    def __init__(self, make: Make) -> None:
        self.make = make

    def made(self, van: Any) -> ipywidgets.ValueWidget:
        """The control for a van."""
        return self.make(van)

    def reset(self, control: ipywidgets.ValueWidget, van: Any) -> None:
        """Give a control that was made here the ends, places and start of another van."""
        like = self.make(van)
        if hasattr(control, "like"):
            control.like(like)
            return
        if isinstance(control, ipywidgets.Dropdown):
            control.options = like.options
            control.index = like.index
            return
        control.min, control.max = min(control.min, like.min), max(control.max, like.max)
        control.value = like.value
        control.min, control.max, control.step = like.min, like.max, like.step


def told(wanted: Any, van: Any) -> Any:
    """A value, or what a function makes of the van."""
    return wanted(van) if callable(wanted) else wanted


def depends(*wanted: Any) -> bool:
    """Whether any of these is a function of the van."""
    return any(map(callable, wanted))
