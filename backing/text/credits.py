"""Who wrote a song, and which student it is printed for."""


def credits_(by: str, student: str) -> str:
    """`Ann Lee, for Ben`; "" if neither is named."""
    return ", ".join(filter(None, (by, student and f"for {student}")))
