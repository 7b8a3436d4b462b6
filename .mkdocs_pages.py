"""Adds to the site what stands elsewhere in the repository, and what is made from the code: rules and settings."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

ROOT = Path(__file__).resolve().parent
PAGES = (
    "plugin/GUIDE.md",
    "plugin/FIELDS.md",
    "graph/VALIDATION.md",
    "graph/ratings/README.md",
    "fixtures/observatory/STORY.md",
    "fixtures/observatory/flawed/README.md",
    "fixtures/observatory/misdrawn/README.md",
    "fixtures/observatory/sound/README.md",
    "CHANGELOG.md",
    "DEVELOPERS.md",
)
LINK = re.compile(r"\]\(([^)#:]+)(#[^)]*)?\)")


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add every page, and every file that a page links to."""
    made = {name: (ROOT / name).read_text(encoding="utf-8") for name in PAGES}
    made["index.md"] = (ROOT / "README.md").read_text(encoding="utf-8")
    made |= {"reference/rules.md": _rules(), "reference/settings.md": _settings()}
    made |= {"reference/insulation.md": _insulation(), "reference/results.md": _results()}
    linked: dict[str, Path] = {}
    for name, text in list(made.items()):
        made[name] = LINK.sub(lambda m, name=name: _link(m, name, made, linked), text)
    for name, text in made.items():
        files.append(File.generated(config, name, content=text))
    for name, path in linked.items():
        if name not in made:
            files.append(File.generated(config, name, abs_src_path=str(path)))
    return files


def _link(match: re.Match[str], page: str, made: dict[str, str], linked: dict[str, Path]) -> str:
    """A link of a page; what it leads to comes along, and a folder is its README or a list of its files."""
    target, anchor = match[1].strip(), match[2] or ""
    if page.startswith("reference/"):
        return match[0]
    source = "README.md" if page == "index.md" else page
    path = (ROOT / source).parent / target
    if not path.exists():
        return match[0]
    name = path.resolve().relative_to(ROOT).as_posix()
    if name == "README.md":
        up = "../" * page.count("/")
        return f"]({up}index.md{anchor})"
    if name.startswith("plugin/guide/"):  # the site's own folder
        return f"]({'../' * page.count('/')}{name.removeprefix('plugin/guide/')}{anchor})"
    if name == "graph/rules/README.md":
        return f"]({'../' * page.count('/')}reference/rules.md{anchor})"
    if path.is_dir():
        readme = path / "README.md"
        if not readme.exists():
            return f"]({'../' * page.count('/')}graph/ratings/README.md)"
        target, name = f"{target}/README.md", f"{name}/README.md"
        path = readme
    if path.suffix == ".md" and name not in made:
        made[name] = path.read_text(encoding="utf-8")
    elif path.suffix != ".md":
        linked[name] = path
    return f"]({target}{anchor})"


def _rules() -> str:
    from loadloom.reports.rule_reference import markdown

    return markdown()


def _settings() -> str:
    from loadloom.plugin import settings_file

    text = (settings_file.__doc__ or "").strip()
    return f"# Settings\n\nEverything that `loadloom.toml` may say, with the defaults.\n\n```text\n{text}\n```\n"


def _insulation() -> str:
    from loadloom.graph.insulation import known_classes_page

    page = known_classes_page()
    return page if page.startswith("#") else f"# Insulations\n\n```text\n{page}\n```\n"


def _results() -> str:
    """The keys of the results file by row type, from its JSON Schema."""
    schema = json.loads((ROOT / "reports/loadloom-results.schema.json").read_text(encoding="utf-8"))
    lines = ["# Results file", "", schema["description"], "", *_keys(schema)]
    for name, part in schema["$defs"].items():
        if "properties" in part:
            lines += ["", f"## {name}", "", *_keys(part)]
    return "\n".join(lines) + "\n"


def _keys(part: dict[str, Any]) -> list[str]:
    rows = ["| key | type | meaning |", "|---|---|---|"]
    for key, what in part["properties"].items():
        rows.append(f"| `{key}` | {_type(what)} | {what.get('description', '')} |")
    return rows


def _type(what: dict[str, Any]) -> str:
    if "$ref" in what:
        return str(what["$ref"]).rpartition("/")[2]
    kind = what.get("type", "any")
    named = " or ".join(kind) if isinstance(kind, list) else str(kind)
    return f"list of {_type(what['items'])}" if named == "array" and isinstance(what.get("items"), dict) else named
