"""Programs killed while they write, each a process of its own, forked from one that is loaded."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KILLS = 20
# `do(line)` of the program is run for each line by a process of its own, whose number is told.
FORKING = """
import os, sys
while line := sys.stdin.readline().strip():
    child = os.fork()
    if child == 0:
        print("begun", os.getpid(), flush=True)
        do(line)
        os._exit(0)
    sys.stdin.readline()
    _, status = os.waitpid(child, 0)
    print("over", os.waitstatus_to_exitcode(status), flush=True)
"""
# Has it done for a line, kills it after some seconds; what it said until then, and whether it
# was killed before it came to its end.
Killed = Callable[[str, float], tuple[list[str], bool]]


@contextmanager
def killing(program: str, *arguments: object) -> Iterator[Killed]:
    """A Python program that defines `do(line)`, loaded and ready."""
    with subprocess.Popen(
        [sys.executable, "-c", program + FORKING, *map(str, arguments)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
    ) as loaded:  # fmt: skip

        def killed(line: str, seconds: float) -> tuple[list[str], bool]:
            send(loaded, line)
            _, number = said(loaded).split()
            time.sleep(seconds)
            os.kill(int(number), signal.SIGKILL)  # not waited for yet: the number is its own
            send(loaded, "")
            told = []
            while not (last := said(loaded)).startswith("over "):
                told.append(last)
            return told, last == f"over {-signal.SIGKILL}"

        yield killed


def said(program: subprocess.Popen[str]) -> str:
    """The next line that a program says; blank where it has ended."""
    assert program.stdout is not None
    line = program.stdout.readline()
    assert line, "the program has ended"
    return line.strip()


def send(program: subprocess.Popen[str], line: str) -> None:
    """Tell a program a line."""
    assert program.stdin is not None
    program.stdin.write(f"{line}\n")
    program.stdin.flush()
