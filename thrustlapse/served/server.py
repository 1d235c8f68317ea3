"""The server behind the page: one process, the loopback address, until the person ends it."""

from __future__ import annotations

import socket
import webbrowser
from collections.abc import Callable

import uvicorn

from thrustlapse.served.app import make_app
from thrustlapse.served.scenario_editor import ScenarioEditor

ADDRESS = "127.0.0.1"
"""The only address that is listened on."""


class NotFree(OSError):
    """A port that cannot be had; its message says why."""


def listen(port: int) -> socket.socket:
    """A socket on the loopback address; raises NotFree."""
    # the protocol is named because only then are small packets sent at once: 40 ms a move
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listening.bind((ADDRESS, port))
    except (OSError, OverflowError) as problem:
        listening.close()
        raise NotFree(f"cannot be had ({getattr(problem, 'strerror', None) or problem}); another "
                      "number, or none for any free one") from None
    return listening


class _Telling(uvicorn.Server):
    """A server that says so once it listens, and not before."""

    def __init__(self, config: uvicorn.Config, listens: Callable[[], None]) -> None:
        super().__init__(config)
        self.listens = listens

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            self.listens()


def serve(editor: ScenarioEditor, *, port: int, told: Callable[[str], None], opened: bool) -> None:
    """Serve an editor until interrupted; raises NotFree."""
    listening = listen(port)
    app = make_app(editor)
    address = f"http://{ADDRESS}:{listening.getsockname()[1]}/{app.state.secret}/"

    def listens() -> None:
        told(f"{editor.file}: {len(editor.known)} numbers to move. For this machine alone:\n\n"
             f"  {address}\n\nEnd with Ctrl-C.")
        if opened:
            webbrowser.open(address)

    settings = uvicorn.Config(app, log_level="error", access_log=False, lifespan="off",
                              server_header=False, ws="none")
    try:
        _Telling(settings, listens).run(sockets=[listening])
    except KeyboardInterrupt:
        told("\nended")
    finally:
        listening.close()
