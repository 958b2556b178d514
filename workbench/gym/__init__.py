"""What there is to train with: the catalogue of exercises, and what a room can load."""
