"""The one error tree. Every message says what was required, what was given, where, what to do.

HarvestError
├── QuantityError      a number or array handed to a calculation is out of range or of wrong shape
├── InputError         something a person typed or a file they gave cannot be used
│   ├── UnknownNameError   a tree, site, species or column that is not known; lists close matches
│   └── FileFormatError    a file that cannot be read as a table
├── StoreError         the orchard's database cannot be opened, read or written
│   ├── OrchardMissingError    there is no orchard at that address yet
│   ├── OrchardVersionError    the orchard was made by another version of this program
│   └── ConflictError          a record was changed elsewhere since it was looked at
└── WeatherSourceError a weather service or weather file did not give what was asked
    └── NoStationError     no station near a place has what was asked; elsewhere there may be one

The library raises; only the command line and the dashboard catch HarvestError and show it.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class HarvestError(Exception):
    """Base of every error this program raises on purpose.

    Parameters
    ----------
    required : what was needed, in words a grower understands.
    given : what was there instead.
    where : file, line, column, record or argument concerned.
    todo : what the person can do about it.
    """

    def __init__(self, required: str, *, given: str = "", where: str = "", todo: str = "") -> None:
        self.required = required
        self.given = given
        self.where = where
        self.todo = todo
        super().__init__(str(self))

    def __str__(self) -> str:
        parts = [self.where and f"{self.where}:", f"{self.required}"]
        text = " ".join(part for part in parts if part)
        if self.given:
            text += f"; given: {self.given}"
        text += "."
        if self.todo:
            text += f" {self.todo}"
        return text


class QuantityError(HarvestError, ValueError):
    """A number or array handed to a calculation is out of range or has the wrong shape."""


class InputError(HarvestError):
    """Something a person typed, or a file they gave, cannot be used as it is."""


class UnknownNameError(InputError):
    """A name that is not on record; `close` holds the known names most like it."""

    def __init__(self, what: str, name: str, known: Iterable[str], *, where: str = "") -> None:
        names = sorted(set(known))
        folded = {candidate.casefold(): candidate for candidate in names}
        matches = get_close_matches(name.casefold(), list(folded), n=5, cutoff=0.5)
        self.close = [folded[match] for match in matches]
        if self.close:
            todo = "Did you mean " + " or ".join(repr(match) for match in self.close) + "?"
        elif names:
            shown = ", ".join(names[:12]) + (", …" if len(names) > 12 else "")
            todo = f"Known: {shown}."
        else:
            todo = f"There is no {what} on record yet."
        super().__init__(f"a known {what} is needed", given=repr(name), where=where, todo=todo)


class FileFormatError(InputError):
    """A file that cannot be read as a table of records."""


class StoreError(HarvestError):
    """The orchard's database cannot be opened, read or written."""


class OrchardMissingError(StoreError):
    """There is no orchard at the address given."""


class OrchardVersionError(StoreError):
    """The orchard was made by another version of this program."""


class ConflictError(StoreError):
    """A record was changed elsewhere since it was looked at; nothing was overwritten."""


class WeatherSourceError(HarvestError):
    """A weather service or weather file did not give what was asked of it."""


class NoStationError(WeatherSourceError):
    """No weather station near a place has what was asked; near another place there may be one."""
