"""The page over HTTP, for this machine and whoever was given the address.

The address holds a secret, so that another page in the browser, or another person on the machine,
cannot guess it; the Host header must name this machine, so that a foreign name pointed at it is
refused; what is sent must come from this page. Nothing is read or written outside the editor.
"""

from __future__ import annotations

import asyncio
import json
import logging
import re
import secrets
import threading
from collections.abc import Callable
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    Response,
)
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from thrustlapse.learning import EvidenceError, with_evidence
from thrustlapse.report.live.files import digest
from thrustlapse.scenario.faults import KeyPath, ScenarioError
from thrustlapse.served.evidence_page import evidence_page
from thrustlapse.served.page_text import page_text
from thrustlapse.served.scenario_editor import DeskError, ScenarioEditor, faults_of

LONGEST_WAIT = 10.0
"""Seconds for a whole body to come: the page sends a few hundred bytes at once."""

INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)
"""Scripts of a write-up that run; tables of data carry a type."""

LARGEST_BODY = 65_536
"""Bytes of one request; a set of changes is a few hundred."""

HOSTS = ("127.0.0.1", "localhost", "[::1]")

WRITTEN = ("index.html", "results.json", "curves.csv", "flights.csv")
"""Files of a write-up that may be looked at, beside its figures."""

POLICY = ("default-src 'none'; img-src 'self' data:; style-src 'unsafe-inline'; "
          "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")

HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff",
           "Referrer-Policy": "no-referrer", "Cross-Origin-Opener-Policy": "same-origin",
           "Cross-Origin-Resource-Policy": "same-origin"}


LOG = logging.getLogger(__name__)


class Refusal(Exception):
    """A request that is refused: status and words."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status, self.words = status, words


class Guard:
    """Turns away what does not name this machine, before anything else looks at it."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            hosts = [value.decode("latin-1") for name, value in scope["headers"] if name == b"host"]
            if len(hosts) != 1 or _without_port(hosts[0]) not in HOSTS:
                refused = PlainTextResponse("this page answers to its own machine only",
                                            status_code=403)
                await refused(scope, receive, send)
                return
        await self.app(scope, receive, send)


def _without_port(host: str) -> str:
    end = host.rfind(":")
    return host[:end] if end > host.rfind("]") else host


def make_app(editor: ScenarioEditor, *, secret: str | None = None) -> Starlette:
    """The application over an editor; ``app.state.secret`` is part of its address."""
    word = secrets.token_urlsafe(24) if secret is None else secret
    lock = threading.Lock()
    made: set[str] = set()

    async def page(_: Request) -> Response:
        text, scripts = page_text(editor)
        return HTMLResponse(text, headers=HEADERS | {
            "Content-Security-Policy": f"{POLICY}; script-src {scripts}"})

    def asking(work: Callable[[dict[KeyPath, str], dict[str, Any]], dict[str, Any]]) -> Any:
        async def answer(request: Request) -> Response:
            try:
                sent = await _sent(request)
                changes = _changes(sent)

                def locked() -> dict[str, Any]:
                    with lock:
                        return work(changes, sent)

                return JSONResponse(await run_in_threadpool(locked), headers=HEADERS)
            except ClientDisconnect:  # nobody is left to be told
                return Response(status_code=400)
            except Refusal as refusal:
                return JSONResponse({"refused": refusal.words}, status_code=refusal.status,
                                    headers=HEADERS)
            except ScenarioError as error:
                return JSONResponse({"faults": faults_of(error)}, headers=HEADERS)
            except DeskError as error:
                return JSONResponse({"faults": [{"key": "", "text": str(error)}]},
                                    headers=HEADERS)
            except Exception as problem:
                # no inner workings go to a browser; who started the program is told
                LOG.error("a move could not be worked out: %s: %s", type(problem).__name__, problem)
                return JSONResponse({"faults": [{"key": "", "text": "that could not be worked "
                                     "out; the values before it still stand"}]},
                                    status_code=500, headers=HEADERS)
        return answer

    def picture(changes: dict[KeyPath, str], sent: dict[str, Any]) -> dict[str, Any]:
        return {"number": sent.get("number", 0), "table": editor.picture(changes)}

    def band(changes: dict[KeyPath, str], sent: dict[str, Any]) -> dict[str, Any]:
        return {"number": sent.get("number", 0), "bands": editor.band(changes)}

    def write(changes: dict[KeyPath, str], _: dict[str, Any]) -> dict[str, Any]:
        editor.write(changes)
        return {"written": editor.file.name}

    def reload(_: dict[KeyPath, str], __: dict[str, Any]) -> dict[str, Any]:
        editor.load()
        return {"loaded": editor.file.name}

    def write_up(changes: dict[KeyPath, str], sent: dict[str, Any]) -> dict[str, Any]:
        name = sent.get("name")
        if not isinstance(name, str):
            raise Refusal(400, "a write-up needs a name")
        path = editor.write_up(changes, name)
        made.add(name)
        return {"folder": str(path.parent), "page": f"write-up/{name}/index.html"}

    async def evidence(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in with_evidence(editor.scenario):
            return PlainTextResponse("no such page", status_code=404, headers=HEADERS)

        def locked() -> str:
            with lock:
                return evidence_page(editor.scenario, name)

        try:
            text = await run_in_threadpool(locked)
        except (EvidenceError, ScenarioError) as error:
            return PlainTextResponse(str(error), status_code=409, headers=HEADERS)
        return HTMLResponse(text, headers=HEADERS | {
            "Content-Security-Policy": f"{POLICY}; script-src 'none'"})

    async def written(request: Request) -> Response:
        name, file = request.path_params["name"], request.path_params["file"]
        parts = file.split("/")
        plain = (file in WRITTEN or (len(parts) == 2 and parts[0] == "figures"
                                     and parts[1].replace("_", "").replace("-", "")
                                     .rpartition(".")[0].isalnum()
                                     and parts[1].rpartition(".")[2] in ("svg", "png")))
        where = editor.folder / name / file
        if name not in made or not plain or where.is_symlink() or not where.is_file():
            return PlainTextResponse("no such page", status_code=404, headers=HEADERS)
        policy = {}
        if where.suffix == ".html":  # what runs in it is what this package wrote into it
            inline = INLINE.findall(where.read_text(encoding="utf-8"))
            hashes = " ".join(f"'sha256-{digest(one)}'" for one in inline) or "'none'"
            policy = {"Content-Security-Policy": f"{POLICY}; script-src {hashes}"}
        return FileResponse(where, headers=HEADERS | policy)

    here = f"/{word}"
    app = Starlette(routes=[
        Route(f"{here}/", page, methods=["GET"]),
        Route(f"{here}/picture", asking(picture), methods=["POST"]),
        Route(f"{here}/band", asking(band), methods=["POST"]),
        Route(f"{here}/write", asking(write), methods=["POST"]),
        Route(f"{here}/reload", asking(reload), methods=["POST"]),
        Route(f"{here}/write-up", asking(write_up), methods=["POST"]),
        Route(f"{here}/evidence/{{name}}", evidence, methods=["GET"]),
        Route(f"{here}/write-up/{{name}}/{{file:path}}", written, methods=["GET"]),
    ])
    app.add_middleware(Guard)
    app.state.secret = word
    return app


async def _sent(request: Request) -> dict[str, Any]:
    """The record a page sent, of a size and a form that a page sends."""
    origin = request.headers.get("origin")
    if origin is not None and origin != f"{request.url.scheme}://{request.headers.get('host')}":
        raise Refusal(403, "sent by another page")
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise Refusal(403, "sent by another page")
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        raise Refusal(415, "JSON is taken, nothing else")
    try:
        async with asyncio.timeout(LONGEST_WAIT):
            body = await _body(request)
    except TimeoutError:
        raise Refusal(408, f"nothing whole came within {LONGEST_WAIT:g} s") from None
    try:
        sent = json.loads(body, parse_constant=_no_number)
        json.dumps(sent, allow_nan=False, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError):  # also a number too large, and half a character
        raise Refusal(400, "not JSON") from None
    if not isinstance(sent, dict):
        raise Refusal(400, "a record is taken, nothing else")
    return sent


async def _body(request: Request) -> bytes:
    body = b""
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_BODY:
            raise Refusal(413, f"more than {LARGEST_BODY} bytes")
    return body


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no JSON")


def _changes(sent: dict[str, Any]) -> dict[KeyPath, str]:
    """Changes of a record: pairs of a path and a text."""
    found: dict[KeyPath, str] = {}
    given = sent.get("changes", [])
    if not isinstance(given, list):
        raise Refusal(400, "changes are a list")
    for pair in given:
        if not (isinstance(pair, list) and len(pair) == 2 and isinstance(pair[0], list)
                and pair[0] and isinstance(pair[1], str)
                and all(isinstance(step, str) or (isinstance(step, int)
                                                  and not isinstance(step, bool))
                        for step in pair[0])):
            raise Refusal(400, "a change is a path and a text")
        if len(pair[0]) > 12:
            raise Refusal(400, "a path of more steps than any scenario has")
        found[tuple(pair[0])] = pair[1]
    return found
