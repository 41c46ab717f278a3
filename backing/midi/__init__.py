"""Scores as Standard MIDI Files; the only room with ticks."""
