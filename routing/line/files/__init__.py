"""Lines and points as people bring them: every file form read into one route."""
