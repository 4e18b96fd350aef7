"""The use cases of settings: units, dates, the first day of the week, the name of changes."""

from __future__ import annotations

from harvest.store.settings import (
    CHOICES,
    KEPT_AS,
    SettingChange,
    Settings,
    change_settings,
    read_settings,
    setting_changes,
)

__all__ = [
    "CHOICES",
    "KEPT_AS",
    "SettingChange",
    "Settings",
    "change_settings",
    "read_settings",
    "setting_changes",
]
