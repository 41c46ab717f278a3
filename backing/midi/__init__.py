"""Scores as Standard MIDI Files; the only folder with ticks."""
