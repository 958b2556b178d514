"""Load, volume and intensity models for resistance training."""
