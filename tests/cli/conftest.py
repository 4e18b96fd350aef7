"""The command line as a user starts it, in this process; and a demo orchard to ask."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
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


@pytest.fixture
def harvest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Harvest:
    """Run `harvest` with arguments; its default orchard lies in this test's own folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv(ORCHARD_VARIABLE, raising=False)
    monkeypatch.setenv("COLUMNS", "200")

    def start(*arguments: object) -> Said:
        monkeypatch.setattr(sys, "argv", ["harvest", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            run()
        out, err = capsys.readouterr()
        code = ended.value.code
        assert "Traceback" not in err
        return Said(code if isinstance(code, int) else int(code is not None), out, err)

    return start


@pytest.fixture
def demo(demo_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo orchard."""
    return Path(shutil.copyfile(demo_template, tmp_path / "demo.sqlite"))
