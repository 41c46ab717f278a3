"""How times, tempos, feels, bars, counts and lists read in words, and how wide a text is.

Everything takes plain values, so that sketch, chart, page and sound files say the same.
"""
