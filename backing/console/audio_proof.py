"""What was found in an audio file, in words and as JSON."""

from __future__ import annotations

from backing.verify.sound.audio import AudioReport


def as_json(report: AudioReport) -> dict[str, object]:
    """An audio report for scripts: times in seconds."""
    return {
        "title": report.title,
        "seconds": report.seconds,
        "expected_seconds": report.expected_s,
        "rate": report.rate,
        "length_only": report.length_only,
        "clicks_found": report.clicks_found,
        "clicks_expected": report.clicks_expected,
        "clicks_covered": report.clicks_covered,
        "clicks_unclear": report.clicks_unclear,
        "worst_difference_seconds": report.worst_s,
        "drift_seconds": report.drift_s,
        "offset_seconds": report.offset_s,
        "agrees": report.agrees,
        "findings": [
            {"reader": f.reader, "what": f.what, "agrees": f.agrees, "says": f.says}
            for f in report.findings
        ],
    }


def verdict(report: AudioReport) -> list[str]:
    """What was compared, in a line or two; or what disagrees."""
    if not report.agrees:
        return [f"Disagrees ({f.reader}): {f.what}: {f.says}." for f in report.disagreements]
    length = f"{report.title}: the length agrees, {report.findings[0].says}."
    unclear = report.clicks_unclear
    if report.length_only and unclear:
        says = "The clicks can't be told from the music: only the length was proven."
        return [length, f"{says} A count-in would show what they sound like."]
    if report.length_only:
        return [length, "No click is in it: only the length was proven."]
    covered = report.clicks_covered + unclear
    under = f" ({covered} can't be told from louder sounds)" if covered else ""
    return [
        length,
        f"{report.clicks_found} clicks of {report.clicks_expected + unclear} are where they "
        f"belong{under}: worst difference {report.worst_s * 1000:.3f} ms, "
        f"drift {report.drift_s * 1000:+.3f} ms, offset {report.offset_s * 1000:+.3f} ms.",
    ]
