"""Work that takes minutes, done behind the pages: one piece at a time, its progress to be asked."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from threading import Lock, Thread
from typing import Any, Generic, TypeVar

Result = TypeVar("Result")
Told = Callable[[int, int], None]


class Job(Generic[Result]):
    """A piece of work: how far it is, and at its end the result or what went wrong.

    Parameters
    ----------
    earlier : the result of the work before, of what has changed since; None where there is none.
    """

    def __init__(self, earlier: Result | None = None) -> None:
        self.done, self.of = 0, 0
        self.earlier = earlier
        self.result: Result | None = None
        self.error: Exception | None = None

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return self.result is None and self.error is None

    def tell(self, done: int, of: int) -> None:
        """Take note of how far it is."""
        self.done, self.of = done, of


class Background:
    """Does one piece of work after another, each once for as long as its key stays the same."""

    def __init__(self) -> None:
        self._turn, self._lock = Lock(), Lock()
        self._jobs: dict[Hashable, tuple[Hashable, Job[Any]]] = {}

    def job(self, name: Hashable, key: Hashable, work: Callable[[Told], Result]) -> Job[Result]:
        """The job of a name, started anew when its key has changed since and the last has ended."""
        with self._lock:
            last_key, last = self._jobs.get(name, (None, None))
            if last is not None and (last.running or last_key == key):
                return last
            job: Job[Result] = Job(None if last is None else last.result or last.earlier)
            self._jobs[name] = key, job
        Thread(target=self._run, args=(job, work), daemon=True).start()
        return job

    def _run(self, job: Job[Result], work: Callable[[Told], Result]) -> None:
        with self._turn:
            try:
                job.result = work(job.tell)
            except Exception as error:
                job.error = error
