"""Depth: lengths along the crank axis, from the block face to the gearbox."""
