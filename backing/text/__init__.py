"""How times and widths read in words."""
