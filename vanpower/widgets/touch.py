"""Controls that stand for what is touched in a picture, so that keyboard and screen reader reach it as well.

A picture's handles move them, and they move the picture. Left out: anything that a slider says already.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import ipywidgets

from vanpower.rig import Panel, Roof, Shares
from vanpower.rig.moved import Moved, put, things_on

BY_LIST = "by list (keyboard and screen reader)"
WIDE = {"width": "auto", "max_width": "30em"}
LONGEST_LIST = 8
# rows of a list before it scrolls
EDGE_STEP = 0.25
# groups of cells; half a row of cells where a group has two


class Composite(ipywidgets.VBox, ipywidgets.ValueWidget):
    """A control made of several, folded away under its name, with one value."""

    value: Any

    def __init__(self, title: str, value: Any, parts: Sequence[ipywidgets.Widget]) -> None:
        self.busy = False
        inner = ipywidgets.VBox(list(parts), layout={"width": "100%"})
        folded = ipywidgets.Accordion([inner], titles=(f"{title} {BY_LIST}",), selected_index=None)
        super().__init__([folded], layout={"flex": "1 1 100%", "max_width": "60em"}, value=value)
        self.observe(lambda change: self._shown(), names="value")

    @contextmanager
    def _quiet(self) -> Iterator[None]:
        """While its parts are moved, they do not move it."""
        self.busy = True
        try:
            yield
        finally:
            self.busy = False

    def _when(self, part: ipywidgets.Widget, told: Callable[[Any], None]) -> None:
        """Tell of a part that a person has moved."""
        part.observe(lambda change: None if self.busy else told(change["new"]), names="value")

    def _shown(self) -> None:
        """Move the parts to where the value is."""
        raise NotImplementedError


class ShadeList(Composite):
    """Which groups of cells lie in shade, and how far a shadow's edge has come over each panel.

    Parameters
    ----------
    panels : sequence of Panel

    Examples
    --------
    >>> from vanpower import example
    >>> shade = ShadeList(example("bookmobile").panels)
    >>> shade.groups.value = ("P1.2",)
    >>> shade.value.covered
    ((0.0, 1.0),)
    """

    def __init__(self, panels: Sequence[Panel], start: Shares | None = None) -> None:
        self.groups = ipywidgets.SelectMultiple(description="Groups in shade", style=_WHOLE, layout=WIDE)
        self.panel = ipywidgets.Dropdown(description="A shadow's edge over", style=_WHOLE, layout=WIDE)
        self.edge = ipywidgets.FloatSlider(
            description="covers so many groups of cells", min=0.0, max=1.0, step=EDGE_STEP, style=_WHOLE, layout=WIDE,
            readout_format=".2f",
        )  # fmt: skip
        self.panels: tuple[Panel, ...] = ()
        super().__init__("Shade", start or Shares(), (self.groups, self.panel, self.edge))
        self.fit(panels)
        self._when(self.groups, self._chosen)
        self._when(self.panel, lambda _: self._shown())
        self._when(self.edge, self._moved)

    def fit(self, panels: Sequence[Panel]) -> None:
        """Stand for other panels; what lies in shade stays as far as they have such groups."""
        if tuple(panels) == self.panels:
            return
        self.panels = tuple(panels)
        with self._quiet():
            names = [_name(number, group) for number, panel in enumerate(panels) for group in range(panel.substrings)]
            self.groups.options = names
            self.groups.rows = min(len(names), LONGEST_LIST)
            self.panel.options = [(f"P{number + 1}", number) for number in range(len(panels))]
            self.panel.index = 0
        self._shown()

    @property
    def ends(self) -> list[Shares]:
        """Nothing in shade, and everything."""
        return [Shares(), Shares(tuple((1.0,) * panel.substrings for panel in self.panels))]

    def _shown(self) -> None:
        every = [(number, self.value.of(number, panel)) for number, panel in enumerate(self.panels)]
        with self._quiet():
            dark = [_name(number, group) for number, own in every for group, share in enumerate(own) if share > 0.0]
            self.groups.value = tuple(dark)
            own = self.value.of(self.panel.value, self.panels[self.panel.value])
            self.edge.max = float(len(own))
            self.edge.value = sum(own)

    def _chosen(self, names: tuple[str, ...]) -> None:
        value: Shares = self.value
        for number, panel in enumerate(self.panels):
            before = value.of(number, panel)
            wanted = [_name(number, group) in names for group in range(panel.substrings)]
            if wanted != [share > 0.0 for share in before]:
                own = [(share or 1.0) if on else 0.0 for on, share in zip(wanted, before, strict=True)]
                value = value.changed(number, own)
        self.value = value

    def _moved(self, groups: float) -> None:
        number = self.panel.value
        count = self.panels[number].substrings
        shares: Shares = self.value
        self.value = shares.changed(number, [min(max(groups - group, 0.0), 1.0) for group in range(count)])


class PlacesList(Composite):
    """Where things lie on a roof: a list of them, and how far the chosen one is from two of the roof's edges.

    Parameters
    ----------
    plan : Roof

    Examples
    --------
    >>> from vanpower import example
    >>> places = PlacesList(example("goat-cheese-van").roof)
    >>> places.thing.value = "flue"
    >>> places.back.value = 1.7
    >>> places.value.places
    (('flue', 0.83, 1.7),)
    """

    def __init__(self, plan: Roof) -> None:
        self.plan = plan
        self.thing = ipywidgets.Dropdown(description="Move", options=list(things_on(plan)), style=_WHOLE, layout=WIDE)
        self.left, self.back = (
            ipywidgets.FloatSlider(
                description=f"from the {edge} edge (m)", min=0.0, max=room, step=0.01, style=_WHOLE, layout=WIDE
            )
            for edge, room in (("left", plan.wide_m), ("back", plan.long_m))
        )
        super().__init__("Move things", Moved(), (self.thing, self.left, self.back))
        self._shown()
        self._when(self.thing, lambda _: self._shown())
        self._when(self.left, lambda _: self._put())
        self._when(self.back, lambda _: self._put())

    @property
    def ends(self) -> list[Moved]:
        """The first fixture in two corners, as far as it may lie there."""
        return [Moved(), Moved().to(list(things_on(self.plan))[-1], 0.0, self.plan.long_m)]

    def _shown(self) -> None:
        plan = self.plan
        for name, left, back in self.value.places:
            plan = put(plan, name, left, back)
        left, back, _, _ = things_on(plan)[self.thing.value]
        with self._quiet():
            self.left.value, self.back.value = left, back

    def _put(self) -> None:
        moved: Moved = self.value
        self.value = moved.to(self.thing.value, self.left.value, self.back.value)


_WHOLE = {"description_width": "initial"}


def _name(panel: int, group: int) -> str:
    """A group of cells as shade notes have it."""
    return f"P{panel + 1}.{group + 1}"
