"""Adds to the site what stands elsewhere in the repository, and what is made from code and tables."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page

ROOT = Path(__file__).resolve().parent
PAGES = (
    "plugin/GUIDE.md",
    "plugin/FIELDS.md",
    "plugin/SETTINGS.md",
    "graph/VALIDATION.md",
    "graph/ratings/README.md",
    "fixtures/observatory/STORY.md",
    "fixtures/observatory/flawed/README.md",
    "fixtures/observatory/misdrawn/README.md",
    "fixtures/observatory/sound/README.md",
    "CHANGELOG.md",
    "DEVELOPERS.md",
)
PLACES = {
    "README.md": "index.md",
    "graph/rules/README.md": "reference/rules.md",
    "graph/ratings": "reference/sources.md",
    "graph/devices": "reference/sources.md",
}
"""Where the site has what stands elsewhere in the repository."""
LINK = re.compile(r"\]\(([^)#:]+)(#[^)]*)?\)")


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add every page, and every file that a page links to."""
    made = {name: (ROOT / name).read_text(encoding="utf-8") for name in PAGES}
    made["index.md"] = (ROOT / "README.md").read_text(encoding="utf-8")
    made |= {"reference/rules.md": _rules(), "reference/sources.md": _sources(), "reference/results.md": _results()}
    linked: dict[str, Path] = {}
    for name, text in list(made.items()):
        made[name] = LINK.sub(lambda m, name=name: _link(m, name, made, linked), text)
    for name, text in made.items():
        files.append(File.generated(config, name, content=text))
    for name, path in linked.items():
        if name not in made:
            files.append(File.generated(config, name, abs_src_path=str(path)))
    return files


def on_page_markdown(markdown: str, page: Page, config: MkDocsConfig, files: Files) -> str:
    """The links of the site's own folder, which are written as they hold in the repository."""
    folder = ROOT / config.docs_dir
    if not (folder / page.file.src_uri).exists():
        return markdown

    def led(match: re.Match[str]) -> str:
        name = (folder / match[1].strip()).resolve().relative_to(ROOT).as_posix()
        name = PLACES.get(name, name).removeprefix("plugin/guide/")
        return f"]({name}{match[2] or ''})"

    return LINK.sub(led, markdown)


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
    if name in PLACES or name.startswith("plugin/guide/"):
        return f"]({'../' * page.count('/')}{PLACES.get(name, name).removeprefix('plugin/guide/')}{anchor})"
    if path.is_dir():
        target, name, path = f"{target}/README.md", f"{name}/README.md", path / "README.md"
    if path.suffix == ".md" and name not in made:
        made[name] = path.read_text(encoding="utf-8")
    elif path.suffix != ".md":
        linked[name] = path
    return f"]({target}{anchor})"


def _rules() -> str:
    from loadloom.reports.rule_reference import markdown

    return markdown()


def _sources() -> str:
    """Every publication that a shipped table or curve rests on, with the table files that name it."""
    lines = ["# Rating tables, curves and their sources", "", "A report lists those of them that it used.", ""]
    lines += ["| Id | Publication | Tables in `graph/ratings` and `graph/devices` |", "|---|---|---|"]
    for folder in ("graph/ratings", "graph/devices"):
        tables = {
            path.name: path.read_text(encoding="utf-8")
            for path in sorted((ROOT / folder).glob("*.csv"))
            if path.name != "sources.csv"
        }
        for row in _rows(ROOT / folder / "sources.csv"):
            id = row["source_id"]
            used = ", ".join(
                f"`{name}`" for name, text in tables.items() if re.search(rf"\b{re.escape(id)}\b", text)
            )
            mark = "; check your edition" if row.get("check_edition") == "yes" else ""
            lines.append(f"| {id} | {row['citation'].replace('|', '/')}{mark} | {used} |")
    return "\n".join(lines) + "\n"


def _rows(path: Path) -> list[dict[str, str]]:
    text = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(text))


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
