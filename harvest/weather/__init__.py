"""Weather: where it comes from, what is wrong with it, how sources and gaps are put together.

Checks, gaps, merging and what comes after the as-of date take and give arrays and frames; only
`stations` and `files` reach outside.
"""
