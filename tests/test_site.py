"""The documentation builds as a site: every link holds, and no page asks the network for anything."""

from __future__ import annotations

import importlib.util
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if importlib.util.find_spec("material") is None:
        reason = "mkdocs-material is not installed (pip install .[test])"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    out = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "mkdocs", "build", "-f", ".mkdocs.yml", "--strict", "-d", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return out


def test_every_page_is_there(site: Path) -> None:
    for page in (
        "index",
        "plugin/GUIDE",
        "how_to",
        "plugin/SETTINGS",
        "reference/sources",
        "reference/rules",
        "graph/VALIDATION",
        "STYLE",
    ):
        assert (site / f"{page}.html").stat().st_size > 5_000, page


def test_no_page_asks_the_network(site: Path) -> None:
    for page in site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        loaded = re.findall(r'<(?:script|img|iframe)[^>]*src="(https?:[^"]*)"', text)
        loaded += re.findall(r'<link[^>]*rel="(?:stylesheet|preconnect|preload)"[^>]*href="(https?:[^"]*)"', text)
        assert loaded == [], page


def test_the_style_page_has_twenty_pairs() -> None:
    text = (ROOT / "plugin/guide/STYLE.md").read_text(encoding="utf-8")
    pairs = re.findall(r"^\| (\d+) \| (.+?) \| (.+?) \|$", text, re.M)
    assert [int(number) for number, _, _ in pairs] == list(range(1, 21))
    assert all(before != after for _, before, after in pairs)
