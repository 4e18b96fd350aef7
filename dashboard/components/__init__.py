"""Pieces of page that every page is put together from."""
