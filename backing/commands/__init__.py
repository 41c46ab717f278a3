"""The commands, a file each; each is imported when it is asked for."""
