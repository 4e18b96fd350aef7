"""Texts of what can be taken away: tables, figures, records."""

from __future__ import annotations

CSV, XLSX, COPY, PNG, SVG = "csv", "xlsx", "copy", "png", "svg"
LABELS = {
    COPY: "Copy the table",
    CSV: "Download CSV",
    XLSX: "Download Excel (.xlsx)",
    PNG: "Picture as PNG",
    SVG: "Picture as SVG",
}
DONE = {
    COPY: "{rows} rows copied: paste them into a spreadsheet.",
    CSV: "{rows} rows saved.",
    XLSX: "{rows} rows saved.",
    PNG: "Saved.",
    SVG: "Saved.",
}
FAILED = "That did not work. Load the page again and try once more."
GROUP_LABEL = "Take away: {title}"
SAID = "{orchard} · {page} · as known on {date}"
SOURCE_SHEET = "Source"
TABLE_SHEET = "Table"
