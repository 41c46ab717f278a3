"""What a file must hold, worked out from its form by arithmetic of the proof's own."""
