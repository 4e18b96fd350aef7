"""The pieces of the invented orchard: what stands there, its weather, its fruit, its log."""
