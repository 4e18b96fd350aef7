"""Pictures: pure functions from rows to plotly figures; Dash is never imported here."""
