"""Where pages are served: hosts, ports, and the address that a browser is told."""

from __future__ import annotations

HERE, EVERYWHERE = "127.0.0.1", "0.0.0.0"
# addresses that only this machine reaches, and that its whole network does
PAGE = "/voila/render/"
# where a server shows a notebook as a live page


def address(host: str, port: int, lesson: str, token: str, where: str = PAGE) -> str:
    """What to open.

    Examples
    --------
    >>> address(HERE, 8866, "03.ipynb", "t")
    'http://127.0.0.1:8866/voila/render/03.ipynb?token=t'
    """
    return f"http://{host}:{port}{where}{lesson}?token={token}"


def free_port(port: int) -> int:
    """The port, or any free one where it is taken.

    Raises
    ------
    ValueError
        For a number that is no port.
    """
    import socket

    if not 1024 <= port <= 65535:
        raise ValueError(f"--port is {port}; a port between 1024 and 65535 makes sense, 8866 is usual.")
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HERE, port))
            return port
        except OSError:
            pass
    with socket.socket() as other:
        other.bind((HERE, 0))
        return int(other.getsockname()[1])
