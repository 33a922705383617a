"""What the servers of pages are told, and how they are started.

One for this machine alone, with JupyterLab and its files beside the pages; one for a class, which runs pages and
nothing else: through it come no files, no terminals, and of a kernel's messages only those of its controls.
"""

from __future__ import annotations

import os
import tempfile
from functools import partial
from pathlib import Path
from typing import Any

from vanpower.pages import hooks
from vanpower.pages.warm import WarmProcess

SHARE = Path(__file__).with_name("share")
# holds the template of pages
TEMPLATE = "vanpower"
IDLE_S, IDLE_IN_CLASS_S, LOOK_S = 60, 600, 20
# [s] after which the kernel of a page that no browser holds open is ended: one that crashed, or a telephone that
# sleeps; and how often we look; no source
EXTENSIONS = ["@jupyter-widgets/jupyterlab-manager", "@voila-dashboards/widgets-manager8", "anywidget"]
# what a page loads of all that may be installed for JupyterLab
EXTENSIONS_OF_SERVER = {"jupyterlab": True, "jupyter_lsp": True, "voila.server_extension": True, "notebook_shim": False}
# what stands beside files and kernels on the server of one's own; the last, which many environments switch on, serves
# extensions of older notebooks, and asks for every setting by its old name, of which the server warns
LAB, VANS = "VANPOWER_LAB", "VANPOWER_VANS"
# environment of the kernels: JupyterLab is there; a folder in which every page has a van of its own


def common(folder: Path, idle_s: int) -> dict[str, dict[str, Any]]:
    """Settings of both servers, by the class that they belong to.

    Examples
    --------
    >>> common(Path("notebooks"), 60)["MappingKernelManager"]["cull_connected"]
    False
    """
    prompt = "vanpower.pages.kernels.Prompt"
    return {
        **{server: {"kernel_websocket_connection_class": prompt} for server in ("ServerApp", "Voila")},
        "VoilaConfiguration": {
            "template": TEMPLATE, "theme": "light", "show_tracebacks": False, "extension_allowlist": EXTENSIONS,
            "prelaunch_hook": partial(hooks.one_live_page, root=str(folder)),
            "page_config_hook": hooks.nothing_from_outside,
            "multi_kernel_manager_class": "vanpower.pages.kernels.WarmKernels",
        },
        "MappingKernelManager": {"cull_idle_timeout": idle_s, "cull_interval": LOOK_S, "cull_connected": False},
    }  # fmt: skip


def serve_lab(folder: Path, first: str, options: list[str]) -> None:
    """Pages, and JupyterLab beside them, for this machine alone."""
    os.environ[LAB] = "1"
    _find_template()
    with WarmProcess() as warm:
        from jupyter_server.serverapp import ServerApp
        from jupyterlab.labapp import LabApp
        from traitlets.config import Config

        from vanpower.pages.kernels import WarmKernels

        told = common(folder, IDLE_S)
        told["ServerApp"] |= {"kernel_manager_class": WarmKernels, "root_dir": str(folder), "ip": "127.0.0.1"}
        # what a person reads was printed before; one Ctrl+C ends it, without a question
        told["ServerApp"] |= {"answer_yes": True, "tornado_settings": {"page_config_hook": hooks.without_news}}
        told["FileContentsManager"] = {"pre_save_hook": hooks.pictures_stay}
        # nothing is asked of the outside: no news, no newer version, no list of extensions
        told["LabApp"] = {
            "news_url": None, "check_for_updates_class": "jupyterlab.NeverCheckForUpdate",
            "extension_manager": "readonly", "log_level": "ERROR",
        }  # fmt: skip

        WarmKernels.warm, WarmKernels.first = warm, (str(folder), first)
        ServerApp.instance(config=Config(told), jpserver_extensions=EXTENSIONS_OF_SERVER)
        LabApp.launch_instance(options)


def serve_class(folder: Path, first: str, options: list[str]) -> None:
    """Pages alone. Every page has a van of its own, so that nobody writes into that of the person who serves."""
    _find_template()
    with WarmProcess() as warm, tempfile.TemporaryDirectory(prefix="vans-") as vans:
        os.environ[VANS] = vans
        from traitlets.config import Config
        from voila.app import Voila

        from vanpower.pages.kernels import WarmKernels

        WarmKernels.warm, WarmKernels.first = warm, (str(folder), first)
        Voila.launch_instance([str(folder), *options], config=Config(common(folder, IDLE_IN_CLASS_S)))


def _find_template() -> None:
    """Let the server find the template of pages beside those that are installed."""
    found = [str(SHARE), os.environ.get("JUPYTER_PATH", "")]
    os.environ["JUPYTER_PATH"] = os.pathsep.join(filter(None, found))
