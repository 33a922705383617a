"""Sliders under a chart: labels, the verdict as a sentence, and a picture that follows the drag.

Knows ipywidgets and IPython, and no physics. Left out: any other layout than finding, control, chart, controls.

any_van       What pages ask of any van: its wirings, its shadows, what a chart shows of several controllers.
chooser       Whose van a page speaks of: its example's, or one's own, read from its file.
controls      Sliders and lists to choose from, each below its label.
explorer      `explore`: verdict, chart and controls, answered anew at every move.
guesses       A guess that is made before one looks, and then held against the answer.
live_picture  A chart as a picture in a page, fast enough to follow a drag.
of_van        Controls that depend on the van: ends, places and start follow the one that is chosen.
touch         What lies in shade and where things stand on a roof: controls for what is touched in a picture.
page          `say` and `rows`: words and tables that a narrow screen can show.
"""

from __future__ import annotations

from vanpower.widgets.chooser import Chooser, Chosen, whose_van
from vanpower.widgets.controls import choice, slider
from vanpower.widgets.explorer import Explorer, explore
from vanpower.widgets.guesses import Guess, guess
from vanpower.widgets.live_picture import LiveChart, LivePicture
from vanpower.widgets.page import rows, say
from vanpower.widgets.touch import places_by_touch, shade_by_touch

__all__ = [
    "Chooser",
    "Chosen",
    "Explorer",
    "Guess",
    "LiveChart",
    "LivePicture",
    "choice",
    "explore",
    "guess",
    "places_by_touch",
    "rows",
    "say",
    "shade_by_touch",
    "slider",
    "whose_van",
]
