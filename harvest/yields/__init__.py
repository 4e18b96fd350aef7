"""Yields across seasons, and what crop a tree may carry. Pure calculation."""
