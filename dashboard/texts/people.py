"""Texts of signing in and out."""

from __future__ import annotations

TITLE = "Sign in"
ASK = "Sign in to {orchard}"
NAME = "Name"
PASSWORD = "Password"
BUTTON = "Sign in"
WRONG = "Name and password do not belong together."
WAIT = "Too many wrong passwords. Wait a quarter of an hour, then try again."
ENDED = "You were signed out. Sign in to go on; what you logged meanwhile is still on your device."
HOW = (
    "Whoever looks after this orchard’s computer makes accounts and new passwords, with "
    "“harvest people”."
)
UNSAFE = (
    "This connection is not encrypted: others on the network could read your password. "
    "Ask for an address that begins with https."
)
FORBIDDEN_TITLE = "That is not yours to do"
FORBIDDEN = "{name} {may}. Whoever looks after accounts can change that."
SIGNED_IN_AS = "Signed in as {name}, who {may}."
SIGN_OUT = "Sign out"
MAY = {
    "look": "may look at everything",
    "log": "may look and log",
    "change": "may look, log and change",
    "accounts": "may do everything",
}
