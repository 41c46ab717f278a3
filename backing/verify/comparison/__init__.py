"""What is expected against what was read: part by part, bar by bar."""
