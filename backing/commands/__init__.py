"""The commands, one file each, imported only when used."""
