"""A picture carries what made it: recipes, charts saved with them and drawn again, and text for a forum.

drawn           What drawing a recipe gives, and what a recipe may tell its chart besides.
forum           A text to paste into a forum: verdict first, then assumptions, table, cautions, and the recipe as one
                line.
of_comparisons  Charts of comparisons: rigs side by side in one light or over days.
of_rigs         Charts of a rig alone: cold volts, the wiring diagram, the page to print.
of_runs         Charts of rigs through days: charge, months, the ladder of losses, and all of it in one picture.
of_trials       The chart of a field trial, judged anew from the rows that its recipe carries.
page            A page to send: every state worked out, drawn and put into words, so that its reader needs nothing
                but a browser.
page_files      The file of a page to send: one self-contained HTML file, written whole or not at all, from which its
                recipe is read.
picture_reading The recipe in a PNG or SVG picture, or in a text, read from files of strangers.
picture_writing Pictures written whole or not at all, each with the recipe that made it.
recipe          The recipe of a chart: rigs, what was asked of them, the kind of chart, the numbers it showed, and who
                made it.
recipe_line     A recipe as one line of plain letters that survives copying, wrapping, quoting and forum software.
registry        Every chart that can be made again, by the name that its recipe carries.
saving          Charts saved with their recipes and drawn again: whatever is saved was drawn from what is saved with
                it.
states          What the reader of a page moves: controls with the values they take, and the question that stands at
                each.
trial_rows      The rows of a field trial as plain numbers, so that its chart can carry them along; no path of a log
                is kept.
"""
