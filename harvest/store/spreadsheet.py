"""Text that a spreadsheet would run as a formula is marked on its way out, and unmarked coming in.

A cell that begins with one of the signs below gets an apostrophe in front (OWASP, CSV Injection);
one that begins with apostrophes and then such a sign gets one more, so that the way back is exact.
"""

from __future__ import annotations

import re

_SIGNS = r"[=+\-@\t\r＝＋－＠]"
_OUT = re.compile(rf"'*{_SIGNS}")
_IN = re.compile(rf"''*{_SIGNS}")


def neutralised(text: str) -> str:
    """The text so that no spreadsheet takes it for a formula."""
    return f"'{text}" if _OUT.match(text) else text


def restored(text: str) -> str:
    """The text as it was before `neutralised`."""
    return text[1:] if _IN.match(text) else text
