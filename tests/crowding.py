"""Words of a chart that lie over each other or leave their drawing: searched for by their boxes."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox


def crowded(ax: Axes) -> list[str]:
    """Words of a chart that stand outside its figure, and pairs that lie over one another."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    canvas = FigureCanvasAgg(figure)
    for _ in range(2):
        canvas.draw()
    renderer = canvas.get_renderer()
    every = [*figure.axes, *(inner for one in figure.axes for inner in one.child_axes)]
    hidden = {
        label
        for axis in (axis for one in every for axis in (one.xaxis, one.yaxis))
        for tick in axis.get_major_ticks()
        for label in (tick.label1, tick.label2)
        if not axis.axes.axison
        or not axis.get_view_interval().min() <= tick.get_loc() <= axis.get_view_interval().max()
    }
    visible = [text for text in figure.findobj(Text) if text.get_visible() and text not in hidden]
    said = [text for text in visible if text.get_text().strip()]
    boxes = [text.get_window_extent(renderer) for text in said]
    inside = figure.bbox.padded(2)
    out = [
        f"{text.get_text()} is out by {box.extents - inside.extents}"
        for text, box in zip(said, boxes, strict=True)
        if not (inside.x0 <= box.x0 and box.x1 <= inside.x1 and inside.y0 <= box.y0 and box.y1 <= inside.y1)
    ]
    pairs = [(k, other) for k in range(len(said)) for other in range(k) if over(boxes[k], boxes[other])]
    return out + [f"{said[k].get_text()} over {said[other].get_text()}" for k, other in pairs]


def over(one: Bbox, other: Bbox) -> bool:
    """Whether two boxes share more than half a dot each way."""
    wide = min(one.x1, other.x1) - max(one.x0, other.x0)
    return bool(wide > 0.5 and min(one.y1, other.y1) - max(one.y0, other.y0) > 0.5)
