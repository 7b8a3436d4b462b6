"""Work in a copy of the process: the same answer and the same exception, and done here if the copy dies."""

import os
import sys
import threading

import pytest

from loadloom.graph.facts import second_process as module
from loadloom.graph.facts.second_process import in_second_process


@pytest.fixture(params=[True, False], ids=["copy", "here"])
def copied(request, monkeypatch) -> bool:
    if request.param and sys.platform != "linux":
        pytest.skip("a process is copied on Linux only")
    monkeypatch.setattr(module, "_can_copy", lambda: request.param)
    return bool(request.param)


def test_the_answer_comes_back(copied: bool):
    here = os.getpid()
    answer, worker = in_second_process(lambda: ({"a": 1.5}, os.getpid()), worth=True)()
    assert answer == {"a": 1.5}
    assert (worker != here) == copied


def test_an_exception_comes_back(copied: bool):
    def work() -> None:
        raise ValueError("no such wire")

    wait = in_second_process(work, worth=True)
    with pytest.raises(ValueError, match="no such wire"):
        wait()


def test_what_the_copy_could_not_do_is_done_here(copied: bool):
    here = os.getpid()

    def work() -> int:
        if os.getpid() != here:
            os._exit(9)
        return here

    assert in_second_process(work, worth=True)() == here


def test_what_can_not_be_sent_is_done_here(copied: bool):
    assert in_second_process(lambda: threading.Lock(), worth=True)() is not None


def test_nothing_is_copied_beside_another_thread():
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        assert in_second_process(os.getpid, worth=True)() == os.getpid()
    finally:
        stop.set()
        thread.join()


def test_small_work_is_done_here():
    assert in_second_process(os.getpid, worth=False)() == os.getpid()
