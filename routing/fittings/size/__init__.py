"""What vents, drains and relief valves must be: kind, bore, rating, time."""
