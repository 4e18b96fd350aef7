"""Looking after trees: may I pick yet, what the year asks for, who pollinates whom, what fits."""
