"""Where vents and drains stand, by which rule, and what is lost without them."""
