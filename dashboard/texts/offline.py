"""Texts of what a browser shows while the server cannot be reached."""

from __future__ import annotations

HEAD = "Orchard · offline"
TITLE = "This page needs the server"
OTHER = "The server cannot be reached, and this page needs it; only Log works without."
LOG = (
    "The server cannot be reached. Log as usual: entries wait on this device and are sent, each "
    "once, when it answers."
)
NO_TREES = (
    "This device knows no trees yet, or somebody signed out here. Open this page once with a "
    "connection; from then on it works without."
)
TO_LOG = "Open Log"
BACK = "The server answers again."
LOAD = "Load the whole page"
