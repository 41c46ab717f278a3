"""What a MIDI file holds, by readers that didn't write it."""
