"""What the thermometers of a bed tell of every depth, and whether they can be believed."""
