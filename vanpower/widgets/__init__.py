"""Sliders under a chart: labels, the verdict as a sentence, and a picture that follows the drag.

Knows ipywidgets and IPython, and no physics. Left out: any other layout than controls, verdict, chart.

controls      Sliders and lists to choose from, each below its label.
explorer      `explore`: controls, verdict and chart, answered anew at every move.
live_picture  A chart as a picture in a page, fast enough to follow a drag.
page          `say` and `rows`: words and tables that a narrow screen can show.
"""

from __future__ import annotations

from vanpower.widgets.controls import choice, slider
from vanpower.widgets.explorer import Explorer, explore
from vanpower.widgets.live_picture import LiveChart, LivePicture
from vanpower.widgets.page import rows, say

__all__ = ["Explorer", "LiveChart", "LivePicture", "choice", "explore", "rows", "say", "slider"]
