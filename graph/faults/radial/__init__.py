"""Let-through and exposure of large radial pieces in closed form."""
