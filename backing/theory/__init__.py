"""Facts of music, no song in sight: pitch, keys, rhythm, chords, fretboard, General MIDI.

Nothing here imports anything else of the house.
"""
