"""The machine: files, folders, locks and processes. Nothing in here knows music."""
