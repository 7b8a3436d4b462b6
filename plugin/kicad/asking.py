"""Asking the user which drawing is meant, on a page that this program serves to this computer alone."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from loadloom.plugin.kicad.pages import message_page

WAIT_S = 600.0


def ask(files: Sequence[Path], why: str, show: Callable[[str], object], wait_s: float = WAIT_S) -> Path | None:
    """The file that the user picks; None where nothing is picked in time.

    ``show`` opens an address in the browser. Only requests with a word made up for this question are answered.
    """
    word = secrets.token_urlsafe(16)
    picked: list[Path] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            query = parse_qs(urlsplit(self.path).query)
            if query.get("word") != [word]:
                self.send_error(404)
                return
            choice = query.get("file", [""])[0]
            if choice.isdigit() and int(choice) < len(files):
                picked.append(files[int(choice)])
                page = message_page("Thank you", [f"The report on {picked[-1].name} opens on a page of its own."])
            else:
                links = [(str(file), f"/?word={word}&file={k}") for k, file in enumerate(files)]
                page = message_page(
                    "Which drawing is to be reported on?", [f"It can't be told: {why}."], links=links
                )
            self.send_response(200)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.send_header("Content-Length", str(len(page)))
            self.end_headers()
            self.wfile.write(page)

        def log_message(self, format: str, *args: object) -> None:
            pass

    import time

    end = time.monotonic() + wait_s
    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        server.timeout = 1.0
        show(f"http://127.0.0.1:{server.server_port}/?word={word}")
        while not picked and time.monotonic() < end:
            server.handle_request()
    return picked[0] if picked else None
