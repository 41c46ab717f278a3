"""What happened to a file as a whole, where it doesn't agree with its song."""
