"""Asking the user on a page that this program serves to this computer alone: which drawing is meant, for one."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from loadloom.plugin.kicad.pages import message_page

WAIT_S = 600.0
SILENCE_S = 10.0


@dataclass(frozen=True, slots=True)
class Reply:
    """A page for the browser; ``done`` ends the asking."""

    page: bytes
    done: bool = False


def serve(
    reply: Callable[[Mapping[str, str]], Reply], show: Callable[[str], object], wait_s: float = WAIT_S
) -> bool:
    """Answer the browser until a reply is the last one, which is told; false where the time is over.

    ``reply`` gets what the address says after its question mark. ``show`` opens an address in the browser. Only
    requests with a word made up for this question are answered.
    """
    word = secrets.token_urlsafe(16)
    done, one_at_a_time = threading.Event(), threading.Lock()

    class Handler(BaseHTTPRequestHandler):
        timeout = SILENCE_S  # a connection on which nothing comes

        def do_GET(self) -> None:
            query = {name: texts[0] for name, texts in parse_qs(urlsplit(self.path).query).items()}
            # A page from elsewhere, whose name leads to this computer, names itself as the host.
            if query.get("word") != word or self.headers.get("Host") != f"127.0.0.1:{server.server_port}":
                self.send_error(404)
                return
            with one_at_a_time:
                answer = reply(query)
            self.send_response(200)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.send_header("Content-Length", str(len(answer.page)))
            self.end_headers()
            self.wfile.write(answer.page)
            if answer.done:
                done.set()

        def log_message(self, format: str, *args: object) -> None:
            pass

    # A thread for each connection: browsers open some ahead, on which nothing comes for a long time.
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.block_on_close = False
        threading.Thread(target=server.serve_forever, daemon=True).start()
        try:
            if show(f"http://127.0.0.1:{server.server_port}/?word={word}") is False:
                return False  # There is no browser, so that nobody will answer.
            return done.wait(wait_s)
        finally:
            server.shutdown()


def ask(files: Sequence[Path], why: str, show: Callable[[str], object], wait_s: float = WAIT_S) -> Path | None:
    """The file that the user picks; None where nothing is picked in time."""
    picked: list[Path] = []

    def reply(query: Mapping[str, str]) -> Reply:
        choice = query.get("file", "")
        if choice.isdigit() and int(choice) < len(files):
            picked.append(files[int(choice)])
            said = [f"The report on {picked[-1].name} opens on a page of its own."]
            return Reply(message_page("Thank you", said), done=True)
        links = [(str(file), f"/?word={query['word']}&file={k}") for k, file in enumerate(files)]
        return Reply(
            message_page("Which drawing is to be reported on?", [f"It can't be told: {why}."], links=links)
        )

    serve(reply, show, wait_s)
    return picked[0] if picked else None
