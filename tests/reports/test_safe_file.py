"""Files get onto the disk whole or not at all, and never over what somebody else wrote."""

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from loadloom.reports import safe_file
from loadloom.reports.safe_file import WriteError, check_place, edit_files, write_files

posix = pytest.mark.skipif(sys.platform == "win32", reason="no such files there")


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir() if not p.name.endswith(".sha256"))


def test_a_file_of_ours_is_replaced_and_another_is_not(tmp_path: Path) -> None:
    target = tmp_path / "x.json"
    write_files({target: b"one"})
    write_files({target: b"two"})
    assert target.read_bytes() == b"two"
    target.write_bytes(b"two, with a note by hand")
    for refuse in (check_place, lambda path: write_files({path: b"three"})):
        with pytest.raises(WriteError, match="changed since; --force"):
            refuse(target)
    assert target.read_bytes() == b"two, with a note by hand"
    write_files({target: b"three"}, force=True)
    write_files({target: b"four"})
    assert target.read_bytes() == b"four"


def test_an_empty_file_holds_nothing_to_lose(tmp_path: Path) -> None:
    (tmp_path / "x.json").touch()
    write_files({tmp_path / "x.json": b"one"})
    assert (tmp_path / "x.json").read_bytes() == b"one"


def test_the_fingerprint_is_what_sha256sum_reads(tmp_path: Path) -> None:
    for content in (b"one", b"two", b"three"):
        write_files({tmp_path / "x.json": content})
    check = ["sha256sum", "--check", "--strict", ".x.json.sha256"]
    done = subprocess.run(check, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0 and done.stdout == "x.json: OK\n"


def test_an_input_is_never_written_over(tmp_path: Path) -> None:
    target = tmp_path / "x.json"
    write_files({target: b"one"})
    (tmp_path / "same.json").hardlink_to(target)
    for path in (target, tmp_path / "none" / ".." / "x.json", tmp_path / "same.json"):
        with pytest.raises(WriteError, match="is read by this very run"):
            write_files({path: b"two"}, [target], force=True)
    assert target.read_bytes() == b"one"


@posix
def test_a_pipe_a_device_and_a_folder_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.json")
    (tmp_path / "folder.json").mkdir()
    (tmp_path / "null.json").symlink_to("/dev/null")
    for name, why in (
        ("pipe", "a device or a pipe"),
        ("folder", "is a folder"),
        ("null", "leads out of its folder"),
    ):
        with pytest.raises(WriteError, match=why):
            write_files({tmp_path / f"{name}.json": b"x"}, force=True)
    with pytest.raises(WriteError, match="a device or a pipe"):
        check_place(Path("/dev/null"))


@posix
def test_a_link_within_the_folder_is_followed_and_one_that_leads_out_is_not(tmp_path: Path) -> None:
    inside, outside = tmp_path / "in", tmp_path / "out"
    inside.mkdir()
    outside.mkdir()
    (inside / "real.json").touch(0o640)
    (inside / "link.json").symlink_to(inside / "real.json")
    write_files({inside / "link.json": b"new"})
    assert (inside / "link.json").is_symlink()
    assert (inside / "real.json").read_bytes() == b"new"
    assert (inside / "real.json").stat().st_mode & 0o777 == 0o640
    (inside / "away.json").symlink_to(outside / "x.json")
    (inside / "loop.json").symlink_to(inside / "loop.json")
    with pytest.raises(WriteError, match="leads out of its folder"):
        write_files({inside / "away.json": b"new"}, force=True)
    with pytest.raises(WriteError, match="can't be written"):
        write_files({inside / "loop.json": b"new"}, force=True)
    assert names(outside) == []


def test_several_files_are_written_together_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two, three = (tmp_path / f"{name}.json" for name in ("one", "two", "three"))
    write_files({one: b"1", two: b"2"})
    replace = Path.replace

    def fails_at_the_third(self: Path, target: Path) -> Path:
        if target == three:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", fails_at_the_third)
    with pytest.raises(WriteError, match=r"three\.json: can't be written"):
        write_files({one: b"new", two: b"new", three: b"new"})
    assert (one.read_bytes(), two.read_bytes()) == (b"1", b"2")
    assert names(tmp_path) == ["one.json", "two.json"]
    monkeypatch.undo()
    write_files({one: b"new"})  # what was put back is still known as ours


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "old.json"
    write_files({target: b"old"})

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(safe_file.os, "fsync", full)
    with pytest.raises(WriteError, match=r"old\.json: can't be written: no space left on device"):
        write_files({target: b"new"})
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["old.json"]


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="there is no folder"):
        write_files({tmp_path / "none" / "x.json": b""})


def test_a_folder_without_permission_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(safe_file.tempfile, "mkstemp", refuse)
    with pytest.raises(WriteError, match="permission denied"):
        write_files({tmp_path / "x.json": b""})


def test_a_file_that_was_edited_meanwhile_is_not_edited(tmp_path: Path) -> None:
    target = tmp_path / "settings.toml"
    target.write_bytes(b"a = 1")
    edit_files({target: (b"a = 1", b"a = 1\nb = 2")})
    assert target.read_bytes() == b"a = 1\nb = 2"
    for before in (b"a = 1", None):
        with pytest.raises(WriteError, match="was changed while loadloom was running"):
            edit_files({target: (before, b"c = 3")})
    assert names(tmp_path) == ["settings.toml"]


KILLED = """
import os, sys, time
from pathlib import Path
from loadloom.reports import safe_file
sync = os.fsync
def slow(number):
    sync(number)
    print("written", flush=True)
    time.sleep(60)
safe_file.os.fsync = slow
safe_file.write_files({Path(sys.argv[1]): b"half"})
"""


@posix
def test_what_a_killed_run_leaves_is_removed_by_the_next(tmp_path: Path) -> None:
    target = tmp_path / "x.json"
    write_files({target: b"old"})
    command = [sys.executable, "-c", KILLED, str(target)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None and run.stdout.readline() == "written\n"
        assert len(names(tmp_path)) == 2, "the new content lies beside the old"
        write_files({tmp_path / "y.json": b"other"})
        assert len(names(tmp_path)) == 3, "another file's run leaves it alone"
        write_files({target: b"old"})
        assert len(names(tmp_path)) == 3, "and so does one while the first still lives"
        run.send_signal(signal.SIGKILL)
    deadline = time.monotonic() + 10
    while run.poll() is None and time.monotonic() < deadline:
        time.sleep(0.05)
    write_files({target: b"new"})
    assert target.read_bytes() == b"new"
    assert names(tmp_path) == ["x.json", "y.json"]


WRITES_ON = """
import sys
from pathlib import Path
from loadloom.reports.safe_file import write_files
files = [Path(name) for name in sys.argv[1:]]
print("begun", flush=True)
while True:
    for letter in b"ab":
        write_files({file: bytes([letter]) * 300_000 for file in files})
"""


@posix
@pytest.mark.parametrize("after_ms", range(0, 60, 6))
def test_a_run_that_is_killed_at_any_moment_leaves_whole_files_that_the_next_may_replace(
    after_ms: int, tmp_path: Path
) -> None:
    files = [tmp_path / "x.html", tmp_path / "x.xlsx"]
    write_files(dict.fromkeys(files, b"a" * 300000))
    command = [sys.executable, "-c", WRITES_ON, *map(str, files)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None and run.stdout.readline() == "begun\n"
        time.sleep(after_ms / 1000)
        run.send_signal(signal.SIGKILL)
    for file in files:
        assert file.read_bytes() in (b"a" * 300_000, b"b" * 300_000)
    write_files(dict.fromkeys(files, b"next"))
    assert [file.read_bytes() for file in files] == [b"next"] * 2
    assert names(tmp_path) == ["x.html", "x.xlsx"]
