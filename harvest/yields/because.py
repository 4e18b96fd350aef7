"""The argument for an advice, gathered while it is worked out: sentences and their sources."""

from __future__ import annotations


class Because:
    """Reasons in the order they were given, and the sources they rest on, each once."""

    def __init__(self) -> None:
        self._reasons: list[str] = []
        self._sources: dict[str, None] = {}

    def say(self, reason: str, *sources: str) -> None:
        """Add a sentence; a source may hold several, separated by semicolons."""
        self._reasons.append(reason)
        self._sources |= dict.fromkeys(
            part.strip() for source in sources for part in source.split("; ") if part.strip()
        )

    @property
    def reasons(self) -> tuple[str, ...]:
        """All sentences."""
        return tuple(self._reasons)

    @property
    def sources(self) -> tuple[str, ...]:
        """All sources."""
        return tuple(self._sources)
