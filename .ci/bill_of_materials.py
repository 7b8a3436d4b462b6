"""The software bill of materials: ``python .ci/bill_of_materials.py`` prints it, CycloneDX 1.6 in JSON.

What an install of loadloom brings along: its dependencies and theirs, as they stand in the environment that this
runs in, with their licences, and what is bundled in the package itself. ``.ci/bill_of_materials.cdx.json`` is what
it prints in an environment made with ``.ci/lock.txt``.
"""

from __future__ import annotations

import json
import re
import sys
from importlib.metadata import Distribution, distribution
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
BY_CLASSIFIER = {
    "License :: OSI Approved :: BSD License": "BSD-3-Clause",
    "License :: OSI Approved :: MIT License": "MIT",
    "License :: OSI Approved :: Python Software Foundation License": "PSF-2.0",
    "License :: OSI Approved :: GNU Lesser General Public License v2 or later (LGPLv2+)": "LGPL-2.1-or-later",
}
OF_BUNDLED = {"d3": "ISC", "@dagrejs/dagre": "MIT"}  # as their texts in ``licences.txt`` read
BUNDLED_PAGE = ROOT / "reports" / "page" / "licences.txt"


def closure(name: str, found: dict[str, Distribution] | None = None) -> dict[str, Distribution]:
    """A distribution and all that it needs without extras, by name."""
    found = {} if found is None else found
    there = distribution(name)
    if (key := plain(there.metadata["Name"])) in found:
        return found
    found[key] = there
    for line in there.requires or ():
        needed = Requirement(line)
        if needed.marker is None or needed.marker.evaluate({"extra": ""}):
            closure(needed.name, found)
    return found


def plain(name: str) -> str:
    """A distribution's name as indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def licence(there: Distribution) -> str:
    """The licence as its metadata give it, as an SPDX expression where they do."""
    metadata = there.metadata
    if expression := metadata.get("License-Expression"):
        return str(expression)
    stated = str(metadata.get("License") or "").strip()
    if stated in ("MIT", "BSD-3-Clause"):
        return stated
    found = [BY_CLASSIFIER[c] for c in metadata.get_all("Classifier") or () if c in BY_CLASSIFIER]
    return " AND ".join(found) or stated.partition("\n")[0] or "not stated"


def component(there: Distribution) -> dict[str, Any]:
    """One entry of the list."""
    name, version = plain(there.metadata["Name"]), there.version
    return {
        "type": "library",
        "bom-ref": f"pkg:pypi/{name}@{version}",
        "name": name,
        "version": version,
        "purl": f"pkg:pypi/{name}@{version}",
        "licenses": [{"expression": licence(there)}],
    }


def bundled() -> list[dict[str, Any]]:
    """Libraries whose code stands in the package: what the page of a report is drawn with."""
    heads = re.findall(r"^== (\S+) (\S+) ==$", BUNDLED_PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    return [
        {
            "type": "library",
            "bom-ref": (address := f"pkg:npm/{name.replace('@', '%40')}@{version}"),
            "name": name,
            "version": version,
            "purl": address,
            "licenses": [{"expression": OF_BUNDLED[name]}],
        }
        for name, version in heads
    ]


def bill() -> dict[str, Any]:
    """The whole list; the same for the same versions, so without a date or a number of its own."""
    found = closure("loadloom")
    own = found.pop("loadloom")
    refs = {key: f"pkg:pypi/{key}@{there.version}" for key, there in found.items()}
    needs = {plain(Requirement(line).name) for line in own.requires or () if "extra ==" not in line}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": "loadloom",
                "name": "loadloom",
                "version": own.version,
                "licenses": [{"expression": "MIT"}],
            }
        },
        "components": [*(component(found[key]) for key in sorted(found)), *bundled()],
        "dependencies": [{"ref": "loadloom", "dependsOn": sorted(refs[key] for key in needs)}],
    }


def text() -> str:
    """The bill as it is written."""
    return json.dumps(bill(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(text())
