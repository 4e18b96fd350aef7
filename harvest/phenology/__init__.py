"""Bloom and ripening: models, pooling across trees, predictive dates, scores. Pure calculation."""
