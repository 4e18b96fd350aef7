"""Asking something outside with a limit on time, and hearing why it failed.

The station service's client reads its files through urllib without a timeout, and reports a
missing file, a damaged one and a dead line alike as nothing; what happened stands only in its log.
"""

from __future__ import annotations

import logging
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Generic, TypeVar
from urllib.error import HTTPError

T = TypeVar("T")


@dataclass
class Heard:
    """What a library said while it was asked: the errors in its log, by exception."""

    errors: list[BaseException] = field(default_factory=list)
    not_found: bool = False


class _Ear(logging.Handler):
    def __init__(self, heard: Heard) -> None:
        super().__init__(logging.INFO)
        self.heard = heard

    def emit(self, record: logging.LogRecord) -> None:
        if "not found" in record.getMessage():
            self.heard.not_found = True
        error = record.exc_info[1] if record.exc_info else None
        if error is not None:
            self.heard.errors.append(error)
        if isinstance(error, HTTPError):  # it holds the line open
            error.close()


@contextmanager
def listening(name: str) -> Iterator[Heard]:
    """Hear a library's log instead of letting it speak to the terminal."""
    logger = logging.getLogger(name)
    heard = Heard()
    ear = _Ear(heard)
    level, speaks = logger.level, logger.propagate
    if not logger.handlers:  # a call left behind may still speak afterwards
        logger.addHandler(logging.NullHandler())
    logger.addHandler(ear)
    logger.setLevel(logging.INFO)
    logger.propagate = False
    try:
        yield heard
    finally:
        logger.removeHandler(ear)
        logger.setLevel(level)
        logger.propagate = speaks


_IN_PLAIN_WORDS = {
    "IncompleteRead": "the connection broke off half-way",
    "RemoteDisconnected": "the connection was closed without an answer",
    "ConnectionResetError": "the connection was closed without an answer",
    "TimeoutError": "no answer in time",
    "SSLCertVerificationError": "the service's certificate could not be verified",
}


def said_by(error: BaseException) -> str:
    """What went wrong in one short line: of an error and those it wraps, the plainest words."""
    seen: list[BaseException] = [error]
    for one in seen:
        name = type(one).__name__
        if name in _IN_PLAIN_WORDS:
            return _IN_PLAIN_WORDS[name]
        if getattr(one, "strerror", None):
            return str(one.strerror)  # type: ignore[attr-defined]
        inner = [getattr(one, "reason", None), one.__cause__, one.__context__, *one.args]
        seen += [e for e in inner if isinstance(e, BaseException) and e not in seen]
    text = str(getattr(error, "reason", "") or error) or type(error).__name__
    return text.splitlines()[0][:120]


class TookTooLongError(Exception):
    """No answer within the time allowed."""


@dataclass
class _Answer(Generic[T]):
    value: list[T] = field(default_factory=list)
    error: list[BaseException] = field(default_factory=list)


def within(seconds: float, call: Callable[[], T], *, silence_seconds: float | None = None) -> T:
    """The call's result, or TookTooLongError after `seconds` [s]; its own errors come through.

    The call runs in a thread of its own that is left behind when it takes too long: a name that
    does not resolve cannot be interrupted. `silence_seconds` [s] bounds each wait for a byte on
    sockets opened meanwhile that set no bound of their own.
    """
    answer: _Answer[T] = _Answer()

    def run() -> None:
        try:
            answer.value.append(call())
        except BaseException as error:
            answer.error.append(error)

    before = socket.getdefaulttimeout()
    socket.setdefaulttimeout(silence_seconds if silence_seconds is not None else before)
    try:
        worker = threading.Thread(target=run, daemon=True)
        worker.start()
        worker.join(seconds)
    finally:
        socket.setdefaulttimeout(before)
    if answer.error:
        raise answer.error[0]
    if not answer.value:
        raise TookTooLongError(f"no answer within {seconds:.1f} s")
    return answer.value[0]
