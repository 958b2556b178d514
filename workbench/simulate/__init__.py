"""A block worked out for a lifter in a room, and simulated over many draws."""
