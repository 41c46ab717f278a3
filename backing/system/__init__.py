"""The machine: folders that one run holds, hidden folders for work, and records of what was
written where. Nothing in here knows music.
"""
