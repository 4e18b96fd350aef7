"""The pages: what to pick when, how past seasons compare, which young tree may carry fruit."""
