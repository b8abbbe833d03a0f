"""What it costs: spreading, layers, replay, and the plain second engine."""
