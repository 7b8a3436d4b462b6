"""The drawing was saved by a KiCad that is newer than the newest this reading was tested with.

Formula: none.

Source: file version in the head of the schematic; common practice, no published source.

Passes: a schematic saved by KiCad 6 to 10.

Fails: a schematic with a file version after 20260306 (KiCad 10.0).
"""

from __future__ import annotations

from loadloom.graph.model.findings import Rule, Severity

RULE = Rule("file-version-untested", Severity.WARNING, "File version not tested")
