"""A time as people read it off a clock."""


def clock(seconds: object) -> str:
    """Minutes, seconds and milliseconds: 1:05.217."""
    ms = round(float(seconds) * 1000)  # type: ignore[arg-type]
    return f"{ms // 60000}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"
