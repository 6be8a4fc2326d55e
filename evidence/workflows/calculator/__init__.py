"""The calculator: effects, pooling and decisions from figures typed on a line."""
