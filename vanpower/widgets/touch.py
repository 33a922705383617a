"""Controls that stand for what is touched in a picture, so that keyboard and screen reader reach it as well.

A picture's handles move them, and they move the picture. Left out: anything that a slider says already.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import ipywidgets

from vanpower.rig import Panel, Rig, Roof, Shares
from vanpower.rig.moved import Moved, put, things_on
from vanpower.widgets.of_van import OfVan

BY_LIST = "by list (keyboard and screen reader)"
WIDE = {"width": "auto", "max_width": "30em"}
DRAWN = "as drawn"
# what a list of shapes says where the shade is none of them
LONGEST_LIST = 8
# rows of a list before it scrolls
EDGE_STEP = 0.25
# groups of cells; half a row of cells where a group has two


class Composite(ipywidgets.VBox, ipywidgets.ValueWidget):
    """A control made of several with one value: some stand open, the others are folded away under its name.

    When its value changes, `follow` moves the parts to where it is.
    """

    value: Any

    def __init__(
        self, title: str, value: Any, follow: Callable[[], None], folded: Sequence[ipywidgets.Widget],
        shown: Sequence[ipywidgets.Widget] = (),
    ) -> None:  # fmt: skip
        self.busy = False
        inner = ipywidgets.VBox(list(folded), layout={"width": "100%"})
        away = ipywidgets.Accordion([inner], titles=(f"{title} {BY_LIST}",), selected_index=None)
        super().__init__([*shown, away], layout={"flex": "1 1 100%", "max_width": "60em"}, value=value)
        self.observe(lambda change: follow(), names="value")

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


class ShadeList(Composite):
    """What lies in shade: a shape out of a list, or any groups of cells, and how far a shadow's edge has come.

    Parameters
    ----------
    panels : sequence of Panel
    shapes : mapping of str to Shares
        Shapes of shade by what they are called; it begins with the first.

    Examples
    --------
    >>> from vanpower import example
    >>> shade = ShadeList(example("bookmobile").panels, {"nothing": Shares()})
    >>> shade.groups.value = ("P1.2",)
    >>> shade.value.covered, shade.shape.label
    (((0.0, 1.0),), 'as drawn')
    """

    def __init__(self, panels: Sequence[Panel], shapes: Mapping[str, Shares]) -> None:
        self.panels, self.shapes = tuple(panels), dict(shapes)
        self.shape = ipywidgets.Dropdown(description="Shade on", style=_WHOLE, layout=WIDE)
        self.groups = ipywidgets.SelectMultiple(description="Groups in shade", style=_WHOLE, layout=WIDE)
        self.panel = ipywidgets.Dropdown(description="A shadow's edge over", style=_WHOLE, layout=WIDE)
        self.edge = ipywidgets.FloatSlider(
            description="covers so many groups of cells", min=0.0, max=1.0, step=EDGE_STEP, style=_WHOLE, layout=WIDE,
            readout_format=".2f",
        )  # fmt: skip
        folded = (self.groups, self.panel, self.edge)
        super().__init__("Shade", next(iter(shapes.values())), self._shown, folded, (self.shape,))
        self._fit()
        self._when(self.shape, self._shaped)
        self._when(self.groups, self._chosen)
        self._when(self.panel, lambda _: self._shown())
        self._when(self.edge, self._moved)

    @property
    def options(self) -> list[tuple[str, Shares]]:
        """The shapes by what they are called."""
        return list(self.shapes.items())

    def like(self, other: ShadeList) -> None:
        """Stand for the panels and shapes of another one, and take its value."""
        self.panels, self.shapes = other.panels, other.shapes
        self._fit()
        self.value = other.value

    def _fit(self) -> None:
        """List the panels' groups and the shapes."""
        groups = [_name(number, group) for number, one in enumerate(self.panels) for group in range(one.substrings)]
        with self._quiet():
            self.groups.value = ()
            self.groups.options, self.groups.rows = groups, min(len(groups), LONGEST_LIST)
            self.panel.options = [(f"P{number + 1}", number) for number in range(len(self.panels))]
            self.panel.index = 0
            self.shape.options = [*self.shapes, DRAWN]
        self._shown()

    def _shown(self) -> None:
        every = [(number, self.value.of(number, panel)) for number, panel in enumerate(self.panels)]
        with self._quiet():
            self.shape.value = next((name for name, shares in self.shapes.items() if shares == self.value), DRAWN)
            dark = [_name(number, group) for number, own in every for group, share in enumerate(own) if share > 0.0]
            self.groups.value = tuple(dark)
            own = self.value.of(self.panel.value, self.panels[self.panel.value])
            self.edge.max = float(len(own))
            self.edge.value = sum(own)

    def _shaped(self, name: str) -> None:
        self.value = self.shapes.get(name, self.value)

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
        super().__init__("Move things", Moved(), self._shown, (self.thing, self.left, self.back))
        self._shown()
        self._when(self.thing, lambda _: self._shown())
        self._when(self.left, lambda _: self._put())
        self._when(self.back, lambda _: self._put())

    @property
    def options(self) -> list[tuple[str, Moved]]:
        """As the rig's file has it."""
        return [("as it is", Moved())]

    def like(self, other: PlacesList) -> None:
        """Stand for the roof of another one, with nothing moved."""
        self.plan = other.plan
        with self._quiet():
            self.thing.options = list(things_on(self.plan))
            self.thing.index = 0
            self.left.max, self.back.max = self.plan.wide_m, self.plan.long_m
        self.value = other.value
        self._shown()

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


def shade_by_touch(shapes: Callable[[Rig], Mapping[str, Iterable[tuple[int, int | None]]]]) -> OfVan:
    """A control for what of a van lies in shade, for the answer and for a picture that is touched.

    Parameters
    ----------
    shapes : callable
        Gives shapes of shade for a van by what they are called, each as panels and groups of cells.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.widgets.any_van import shadows
    >>> shade = shade_by_touch(shadows).made(example("bookmobile"))
    >>> [words for words, _ in shade.options]
    ['part of P1', 'all of P1', 'part of both panels', 'both panels']
    """
    return OfVan(lambda van: ShadeList(van.panels, _shares(van, shapes(van))))


def _shares(van: Rig, shapes: Mapping[str, Iterable[tuple[int, int | None]]]) -> dict[str, Shares]:
    """Shapes as the shares of groups that they cover."""
    return {words: Shares.on(spots, van.panels) for words, spots in shapes.items()}


def places_by_touch() -> OfVan:
    """A control for where things lie on a van's roof, for the answer and for a plan that is touched.

    Examples
    --------
    >>> from vanpower import example
    >>> places_by_touch().made(example("goat-cheese-van")).thing.options[:3]
    ('P1', 'P2', 'P3')
    """
    return OfVan(lambda van: PlacesList(van.need_roof()))
