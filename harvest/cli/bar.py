"""How far a long command is, where somebody looks on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error, so that results can be piped; nothing where there is no terminal.

    What it gives is told how much is done, and of how much.
    """
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(label, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)
