"""Tables and sketches that a terminal shows, and the same as JSON."""
