"""Laws are checked without a time limit: on a busy machine a slow example is no broken law."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")
