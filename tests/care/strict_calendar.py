"""A strict reader of iCalendar files, after the text of RFC 5545 and nothing else.

3.1: CRLF ends every line, no line over 75 octets, folds are CRLF and one blank. 3.3.11: the
escapes of TEXT. 3.4: one VCALENDAR with PRODID and VERSION. 3.6.1: VEVENT with UID and DTSTAMP
once each, DTSTAMP in UTC; a DTSTART of DATE wants a DTEND of DATE, later than it.
"""

from __future__ import annotations

import re
from datetime import datetime

LINE = re.compile(r"^([A-Z0-9-]+)((?:;[A-Z0-9-]+=(?:\"[^\"]*\"|[^;:,\"]*))*):(.*)$", re.DOTALL)
ONCE = ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "SEQUENCE", "STATUS",
        "TRANSP", "LOCATION")  # fmt: skip


def read_calendar(data: bytes) -> list[dict[str, str]]:
    """The events of a file, values unescaped; an AssertionError where a rule is broken."""
    assert data.endswith(b"\r\n")
    raw = data.split(b"\r\n")[:-1]
    assert not any(b"\r" in line or b"\n" in line for line in raw), "a bare CR or LF"
    assert all(len(line) <= 75 for line in raw), "a line over 75 octets"
    assert all(line.decode("utf-8") is not None for line in raw), "a fold inside a letter"
    lines: list[str] = []
    for line in raw:
        text = line.decode("utf-8")
        if text.startswith((" ", "\t")):
            lines[-1] += text[1:]
        else:
            lines.append(text)
    assert not any(ord(letter) < 32 and letter != "\t" for line in lines for letter in line)
    parsed = []
    for line in lines:
        found = LINE.match(line)
        assert found, line
        parsed.append((found[1], found[2], found[3]))
    assert parsed[0] == ("BEGIN", "", "VCALENDAR")
    assert parsed[-1] == ("END", "", "VCALENDAR")
    head = [name for name, _, _ in parsed[1 : _first_event(parsed)]]
    assert head.count("PRODID") == 1
    assert head.count("VERSION") == 1
    return _events(parsed)


def _first_event(parsed: list[tuple[str, str, str]]) -> int:
    return next((n for n, line in enumerate(parsed) if line[0] == "BEGIN" and n), len(parsed) - 1)


def _events(parsed: list[tuple[str, str, str]]) -> list[dict[str, str]]:
    events: list[dict[str, str]] = []
    inside: list[tuple[str, str, str]] | None = None
    for name, parameters, value in parsed[1:-1]:
        if name == "BEGIN":
            assert (value, inside) == ("VEVENT", None)
            inside = []
        elif name == "END":
            assert value == "VEVENT"
            assert inside is not None
            events.append(_event(inside))
            inside = None
        elif inside is not None:
            inside.append((name, parameters, value))
    assert inside is None
    return events


def _event(lines: list[tuple[str, str, str]]) -> dict[str, str]:
    names = [name for name, _, _ in lines]
    for name in ONCE:
        assert names.count(name) <= 1, name
    for name in ("UID", "DTSTAMP", "DTSTART"):
        assert name in names, name
    found = {name: (parameters, value) for name, parameters, value in lines}
    datetime.strptime(found["DTSTAMP"][1], "%Y%m%dT%H%M%SZ")
    for name in ("DTSTART", "DTEND"):
        parameters, value = found[name]
        assert parameters == ";VALUE=DATE", f"{name}{parameters}"
        datetime.strptime(value, "%Y%m%d")
    assert found["DTEND"][1] > found["DTSTART"][1]
    assert int(found["SEQUENCE"][1]) >= 0
    assert found["STATUS"][1] in ("TENTATIVE", "CONFIRMED", "CANCELLED")
    assert found["TRANSP"][1] in ("OPAQUE", "TRANSPARENT")
    return {name: _unescaped(value) for name, (_, value) in found.items()}


def _unescaped(text: str) -> str:
    assert not re.search(r"(?<!\\)(?:\\\\)*\\[^\\;,nN]", text), (
        f"an escape there is none of: {text}"
    )
    kinds = {"n": "\n", "N": "\n"}
    return re.sub(r"\\(.)", lambda found: kinds.get(found[1], found[1]), text)
