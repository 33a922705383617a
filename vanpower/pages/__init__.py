"""Notebooks as live pages without code: one server, one live page a tab, kernels that are ready before they are asked.

A page is a kernel with a `book` in it, which shows one notebook after the other: `cells` says what a cell shows, `bar`
is the line of links and knows the browser. `hooks` and `settings` are what the server is told, `kernels` and `warm`
have kernels ready, and `python -m vanpower.pages` starts it. Nothing there knows what a page is about.

Left out: JupyterLab's own pages, which show the same files with their code; and any page that is not a notebook.
"""
