"""Short circuits: how much flows, what clears it, and in which order things may open."""
