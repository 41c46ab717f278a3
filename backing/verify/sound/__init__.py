"""Sound files against their form: their length in samples, and where their clicks are."""
