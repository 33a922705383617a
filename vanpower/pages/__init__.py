"""Notebooks as live pages without code: one server, one live page a tab, kernels that are ready before they are asked.

A page is a kernel with a `book` in it, which shows one notebook after the other: `cells` says what a cell shows, `bar`
is the line of links and knows the browser. `hooks` and `settings` are what the server is told, `kernels` and `warm`
have kernels ready, and `python -m vanpower.pages` starts it. Nothing there knows what a page is about.

The form "my van" is `form`: `boxes` (label, unit, help), `typical` values and their sources, `entries` from a rig to
what stands in the boxes and back, `slips` in the form's own labels, `desk` boxes and file together, `answers` in the
words of the command line.

Left out: JupyterLab's own pages, which show the same files with their code; and any page that is not a notebook.
"""
