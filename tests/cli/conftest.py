"""The command line as a user starts it, in this process; and a demo orchard to ask."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import pytest

from harvest.cli.context import ORCHARD_VARIABLE
from harvest.cli.main import run


@dataclass(frozen=True)
class Said:
    """What a command printed, and how it ended."""

    code: int
    out: str
    err: str


Harvest = Callable[..., Said]


def start(*arguments: object) -> Said:
    """Run `harvest` with arguments to its end."""
    out, err = StringIO(), StringIO()
    with (
        pytest.MonkeyPatch.context() as patch,
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        patch.setattr(sys, "argv", ["harvest", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            run()
    code = ended.value.code
    assert "Traceback" not in err.getvalue()
    assert isinstance(code, int)
    return Said(code, out.getvalue(), err.getvalue())


@pytest.fixture
def harvest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Harvest:
    """Run `harvest` with arguments; its default orchard lies in this test's own folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.delenv(ORCHARD_VARIABLE, raising=False)
    return start


@pytest.fixture
def demo(demo_template: Path, tmp_path: Path) -> Path:
    """A copy of the demo orchard."""
    return Path(shutil.copyfile(demo_template, tmp_path / "demo.sqlite"))
