"""The second door to the orchard: accounts, settings, whole files in and out.

What pages show and record comes through `dashboard.data`.
"""

from __future__ import annotations

from harvest.service_care import told_at_once
from harvest.service_imports import (
    ImportReport,
    Layout,
    TextTable,
    columns_of,
    guess_columns,
    guess_kind,
    import_mapped,
    loose_columns,
    read_upload,
)
from harvest.service_people import Person, cookie_key, sign_in, sign_out, who_holds
from harvest.service_records import Exported, backup_orchard, export_folder
from harvest.service_settings import (
    CHOICES,
    KEPT_AS,
    SettingChange,
    Settings,
    change_settings,
    read_settings,
    setting_changes,
)

__all__ = [
    "CHOICES", "KEPT_AS", "Exported", "ImportReport", "Layout", "Person", "SettingChange",
    "Settings", "TextTable", "backup_orchard", "change_settings", "columns_of", "cookie_key",
    "export_folder", "guess_columns", "guess_kind", "import_mapped", "loose_columns",
    "read_settings", "read_upload", "setting_changes", "sign_in", "sign_out", "told_at_once",
    "who_holds",
]  # fmt: skip
