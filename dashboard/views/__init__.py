"""What a page shows, as frozen rows: grouped and summed from results, free of Dash and plotly."""
