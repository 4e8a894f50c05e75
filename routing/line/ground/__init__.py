"""The ground beneath a line: stations, the exact profile, its highs and lows, where it crosses."""
