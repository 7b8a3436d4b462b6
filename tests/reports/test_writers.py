"""Reports get onto the disk whole or not at all."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from observatory_sample import sample

from loadloom.reports import writers
from loadloom.reports.writers import WRITERS, WriteError, check_suffix, write_bytes, write_report, writer_for


def test_every_suffix_that_is_promised_has_a_writer() -> None:
    assert {".xlsx", ".html", ".json", ".sarif", ".junit.xml", ".csv"} <= set(WRITERS)


def test_the_longest_suffix_counts() -> None:
    assert writer_for(Path("a.findings.csv")) is WRITERS[".findings.csv"]
    assert writer_for(Path("a.CSV")) is WRITERS[".csv"]
    assert writer_for(Path("a.junit.xml")) is WRITERS[".junit.xml"]


@pytest.mark.parametrize("name", ["a.txt", "a", "a.xml", "a.json.gz", ""])
def test_an_unknown_suffix_is_refused_before_any_work(name: str) -> None:
    with pytest.raises(WriteError, match="suffix must be one of"):
        check_suffix(Path(name))


@pytest.mark.parametrize("suffix", [s for s in WRITERS if s != ".html"])
def test_every_writer_writes_the_same_bytes_twice(suffix: str, tmp_path: Path) -> None:
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    write_report(sample(), first)
    write_report(sample(), second)
    assert first.read_bytes() == second.read_bytes()
    assert first.stat().st_size > 50
    assert sorted(p.name for p in tmp_path.iterdir()) == [first.name, second.name]


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "old.json"
    target.write_text("old", encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(writers.os, "fsync", full)
    with pytest.raises(WriteError, match=r"old\.json: can't be written: no space left on device"):
        write_bytes(target, b"new")
    assert target.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["old.json"]


def test_a_missing_folder_and_a_folder_as_target_are_said(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="no such file or directory"):
        write_bytes(tmp_path / "none" / "x.json", b"")
    (tmp_path / "x.json").mkdir()
    with pytest.raises(WriteError, match="is a folder"):
        write_bytes(tmp_path / "x.json", b"")


def test_a_folder_without_permission_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(writers.tempfile, "mkstemp", refuse)
    with pytest.raises(WriteError, match="permission denied"):
        write_bytes(tmp_path / "x.json", b"")


@pytest.mark.skipif(sys.platform == "win32", reason="no file modes there")
def test_an_existing_file_keeps_its_mode_and_a_link_stays_a_link(tmp_path: Path) -> None:
    target, link = tmp_path / "real.json", tmp_path / "link.json"
    target.write_text("old", encoding="utf-8")
    target.chmod(0o640)
    link.symlink_to(target)
    write_bytes(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"
    assert target.stat().st_mode & 0o777 == 0o640


def test_asking_for_a_writer_imports_nothing_heavy() -> None:
    code = (
        "import sys; from pathlib import Path; from loadloom.reports.writers import check_suffix; "
        "check_suffix(Path('x.xlsx')); "
        "print([m for m in ('openpyxl', 'rich', 'numpy', 'scipy', 'networkx') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
