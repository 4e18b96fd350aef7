"""The second door to the orchard: accounts, settings, whole files in and out.

What pages show and record comes through `dashboard.data`.
"""

from __future__ import annotations

from harvest.service_people import Person, cookie_key, sign_in, sign_out, who_holds

__all__ = ["Person", "cookie_key", "sign_in", "sign_out", "who_holds"]
