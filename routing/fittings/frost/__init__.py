"""What frost does to a line."""
