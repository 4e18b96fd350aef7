"""Records, thermal time, ripening forecasts and decisions for people who look after fruit trees."""
