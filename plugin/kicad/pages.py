"""Small local pages for what has no window of its own: progress, warnings, errors, a question."""

from __future__ import annotations

import html
from collections.abc import Iterable
from pathlib import Path

from loadloom.reports.safe_text import html_text

_STYLE = (
    "body{font:16px/1.5 system-ui,sans-serif;max-width:44em;margin:4em auto;padding:0 1em}"
    ":root{color-scheme:light dark}body{color:#222;background:#fff}td,th,p{overflow-wrap:anywhere}"
    "h1{font-size:1.3em}table{border-collapse:collapse}td,th{text-align:left;padding:.25em .6em .25em 0}"
    "pre{background:#f3f3f3;padding:.8em;white-space:pre-wrap}a{color:#0b5cad}"
    "@media(prefers-color-scheme:dark){body{color:#ddd;background:#1c1c1e}pre{background:#2a2a2c}a{color:#7ab7ff}}"
)


def message_page(
    title: str,
    paragraphs: Iterable[str],
    *,
    details: str = "",
    links: Iterable[tuple[str, str]] = (),
    refresh_s: int | None = None,
    go_to: str | None = None,
    form: str = "",
) -> bytes:
    """A page of a title, paragraphs, details as they stand, and links (text, address).

    ``form`` is markup, already safe, that stands after the paragraphs.
    ``refresh_s`` loads it again after so many seconds; ``go_to`` leads on to another page at once.
    """
    head = ""
    if go_to is not None:
        head = f'<meta http-equiv="refresh" content="0; url={html.escape(go_to, quote=True)}">'
    elif refresh_s is not None:
        head = f'<meta http-equiv="refresh" content="{refresh_s}">'
    body = [f"<h1>{html_text(title)}</h1>"]
    body += [f"<p>{html_text(text)}</p>" for text in paragraphs]
    body.append(form)
    body += [
        f'<p><a href="{html.escape(address, quote=True)}">{html_text(text)}</a></p>' for text, address in links
    ]
    if details:
        lines = "\n".join(html_text(line) for line in details.splitlines())
        body.append(f"<pre>{lines}</pre>")
    page = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">{head}<title>{html_text(title)}</title>'
        f"<style>{_STYLE}</style></head><body>{''.join(body)}</body></html>\n"
    )
    return page.encode("utf-8")


def open_in_browser(page: Path) -> bool:
    """Show a page in the user's browser; false where there is none."""
    import webbrowser

    try:
        return webbrowser.open(page.resolve().as_uri())
    except webbrowser.Error:
        return False
