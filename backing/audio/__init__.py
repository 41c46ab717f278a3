"""From a score to sound: engines, soundfonts, rendering, loudness, encoding and tags."""
