"""Serve an orchard under waitress, as the command line would: `serve_orchard.py ADDRESS PORT`."""

from __future__ import annotations

import sys
from datetime import date

from dashboard.app import create_app, serve
from harvest.store.orchard import open_orchard

TODAY = date(2026, 8, 20)

if __name__ == "__main__":
    serve(create_app(open_orchard(sys.argv[1]), today=lambda: TODAY), "127.0.0.1", int(sys.argv[2]))
