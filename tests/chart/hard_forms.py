"""Forms that are hard to fit on paper, as their YAML: long, crowded, wordy."""

from __future__ import annotations

WORD = "Rindfleischetikettierungsueberwachungsaufgabenuebertragungsgesetz"
LONG = (WORD * 4)[:200]
NOTE = " ".join(["let the low string ring and keep the thumb steady until the very last bar"] * 9)
CHORDS = "C G Am F Dm7 E7 Bb A".split()
DENSE = "F#m7b5/C# Bbmaj7#11/D G#m7b5/D# Ebmaj7#11/Bb"


def tab(cells: str, bars: int) -> str:
    """Six strings of tab, a bar's cells on every other one."""
    width = len(cells)
    lines = [cells if at % 2 else "-" * width for at in range(6)]
    names = "eBGDAE"
    return "\n".join(
        f"      {name}|" + "|".join([line] * bars) + "|"
        for name, line in zip(names, lines, strict=True)
    )


def riffs(bars: int, cells: str = "0-2-3-5-", step: str = "1/8", *names: str) -> str:
    """A table of riffs, each on other frets."""
    return "riffs:\n" + "".join(
        f"  {name}:\n    step: {step}\n    tab: |\n{tab(cells.replace('0', str(at)), bars)}\n"
        for at, name in enumerate(names or ("run",))
    )


def rows(bars: int, across: int = 4, chords: list[str] | None = None) -> str:
    """Bars as a block of lines under `bars: |`."""
    each = chords or CHORDS
    lines = []
    for start in range(0, bars, across):
        row = [each[(start + at) % len(each)] for at in range(min(across, bars - start))]
        lines.append(f"      | {' | '.join(row)} |")
    return "\n".join(lines)


def song(body: str, form: str = "[verse]", head: str = "title: Hard\ntempo: 96") -> str:
    """A form with one section, `verse`, of which `body` is the inside."""
    return f"{head}\nsections:\n  verse:\n{body}\nform: {form}\n"


def tabbed(bars: int, cells: str = "0-2-3-5-", step: str = "1/8", more: str = "") -> str:
    """A section with a tab under each of its bars."""
    head = f"title: A Long Run\ntempo: 96\n{more}{riffs(bars, cells, step)}"
    return song(
        f"    bars: |\n{rows(bars)}\n    parts: {{guitar: {{riff: run}}}}", head=head.rstrip()
    )


def _changing(bars: int, mark: str = "") -> str:
    meters = ("7/8", "3/4", "11/8 (3+3+3+2)", "2/4", "5/4 (3+2)", "6/8")
    row = " | ".join(f"{meters[at % 6]} {CHORDS[at % 8]}{mark}" for at in range(bars))
    return song(f'    bars: "| {row} |"')


def _shapes(count: int) -> str:
    roots = "C C# D Eb E F F# G Ab A Bb B".split()
    qualities = ("", "m7b5", "7sus4", "maj7", "m11", "7(b9)", "6/9")
    names = [f"{root}{quality}" for quality in qualities for root in roots][:count]
    return song(f"    bars: |\n{rows(count, 4, names)}", head="title: Shapes\ntempo: 96")


def _wordy() -> str:
    cues = ", ".join(f'"{(NOTE[at:] or NOTE)[:118]}"' for at in range(8))
    return "\n".join([
        f'title: "{LONG}"', f'by: "{LONG}"', f'note: "{NOTE[:300]}"', "tempo: 60", "sections:",
        f'  "{LONG[:60]}":', f'    note: "{LONG}{LONG[:100]}"', f"    words: [{cues}]",
        "    bars: |", rows(16, 2),
        f'    on-pass: {{2: {{note: "{NOTE[:300]}"}}, 3: {{note: "{NOTE[5:300]}"}}}}',
        f'  "{("word " * 20)[:60].strip()}":', f'    note: "{NOTE[:300]}"', "    bars: '| C |'",
        "form:", f'  - "{LONG[:60]} x3"',
        f'  - {{section: "{("word " * 20)[:60].strip()}", label: "{LONG[9:69]}", note: "{LONG}"}}',
        "",
    ])  # fmt: skip


def _roadmap(lines: int, note: str = "") -> str:
    sections = "".join(f'  part {at}: {{bars: "| C | G |"}}\n' for at in range(6))
    printed = f', note: "{note}"' if note else ""
    form = "".join(f"  - {{section: part {at % 6}{printed}}}\n" for at in range(lines))
    return f"title: Sixty Lines\ntempo: 96\nsections:\n{sections}form:\n{form}"


def _cues(per_row: int, letters: str) -> str:
    """A cue at each bar, all in one row."""
    cues = ", ".join(f'"{letters}"' for _ in range(16))
    bars = rows(16, 1)
    return song(f"    per-row: {per_row}\n    words: [{cues}]\n    bars: |\n{bars}")


def _passes(count: int) -> str:
    """A section whose margin is taller than a page."""
    printed = "".join(
        f'      {at}: {{note: "{at} {NOTE[: 200 + at]}"}}\n' for at in range(1, count)
    )
    return song(f"    bars: '| C | G |'\n    on-pass:\n{printed}", f"[verse x{count}]")


def _endings(odd: int) -> str:
    """Endings of uneven lengths, one of them for very many passes."""
    many = "\n".join(
        f'      {at}: "{"| F | G |" if at % 2 else "| Am |"}"' for at in range(1, odd + 1)
    )
    return song(
        f"    bars: |\n{rows(6)}\n    endings:\n{many}\n      {odd + 1}: |\n"
        + rows(5).replace("      ", "        "),
        f"[verse x{odd + 1}]",
    )


def _two_staves(bars: int, step: str = "1/8", cells: str = "0-2-3-5-", more: str = "") -> str:
    names = riffs(bars, cells, step, "low", "high")
    parts = "    parts: {guitar: {riff: low}, lead: {riff: high}}"
    return song(
        f"{more}    bars: |\n{rows(bars)}\n{parts}",
        head=f"title: Two Guitars\ntempo: 96\n{names.rstrip()}",
    )


def _strummed(bars: int, row: int) -> str:
    strums = 'strums:\n  busy: {step: 1/16, play: "D> U D U x U D U D> U D U x U D U"}'
    return song(
        f"    per-row: {row}\n    bars: |\n{rows(bars)}\n    parts: {{guitar: {{strum: busy}}}}",
        head=f"title: Strums\ntempo: 96\n{strums}",
    )


def _many_sections(count: int, bars: int) -> str:
    sections = "".join(
        f"  part {at}:\n    note: section {at}, played as it comes\n    bars: |\n{rows(bars)}\n"
        for at in range(count)
    )
    names = ", ".join(f"part {at}" for at in range(count))
    return f"title: Suite\ntempo: 96\nsections:\n{sections}form: [{names}]\n"


def _one_unit() -> str:
    """A bar of a single unit, with more in it than a page is wide."""
    cells = "-".join(["0", "12", "x", "3"] * 8)[:64].ljust(64, "-")
    riff = f"riffs:\n  run:\n    step: 1/64\n    tab: |\n{tab(cells, 2)}"
    return song(
        '    bars: "| C | G |"\n    parts: {lead: {riff: run}}',
        head=f"title: Fast\ntempo: {{bpm: 40, beat: 1/4}}\nmeter: 1/1\n{riff}",
    )


def _picked(count: int) -> str:
    """A pick of triplets under each section, over a second guitar's riff that bends at once."""
    plucks = ("p i m", "p2 i m", "p m a", "(pa) i m", "a m i", "p a (im)")
    picks = "".join(
        f'  pick {at}: {{step: 1/8t, play: "{" ".join([plucks[at]] * 4)}"}}\n'
        for at in range(count)
    )
    sections = "".join(
        f"  part {at}:\n    bars: |\n{rows(8)}\n"
        f"    parts: {{guitar: {{pick: pick {at}}}, lead: {{riff: low}}}}\n"
        for at in range(count)
    )
    names = ", ".join(f"part {at}" for at in range(count))
    head = f"title: Picks\ntempo: 80\npicks:\n{picks}{riffs(4, '5b7~0h2-', '1/8', 'low')}"
    return f"{head}sections:\n{sections}form: [{names}]\n"


def _scripts() -> str:
    """Long names without a blank in scripts that run to the left or have no blanks."""
    left, none = "\u05e9\u05d9\u05e8" * 66, "\u6b4c\u3092\u6b4c\u3046" * 50
    return "\n".join([
        f'title: "{left}"', f'by: "{none}"', f'note: "{left}"', "tempo: 60", "sections:",
        f'  "{left[:60]}":', f'    note: "{none}{none[:90]}"', f'    words: ["{left[:120]}"]',
        "    bars: |", rows(8), f'  "{none[:60]}":', f'    words: "{none[:120]}"',
        "    bars: '| C | D |'", "form:", f'  - "{left[:60]}"',
        f'  - {{section: "{none[:60]}", label: "{left[:60]}", note: "{none}"}}', "",
    ])  # fmt: skip


def _pushed(bars: int) -> str:
    return song(f"    per-row: 8\n    bars: |\n{rows(bars, 4, [f'{c}(push)' for c in CHORDS])}")


def _few_strings() -> str:
    """Boxes of four strings high on the neck, under names wider than they are."""
    roots = "C C# D Eb E F F# G Ab A Bb B".split()
    names = [f"{root}{quality}" for quality in ("m7/F#", "7(b9)/F#") for root in roots]
    shapes = "".join(
        f"  {name}: {'-'.join(str(7 + at % 7 + string % 3) for string in range(4))}\n"
        for at, name in enumerate(names)
    )
    head = f"title: Small\ntempo: 96\ninstrument: ukulele\nshapes:\n{shapes.rstrip()}"
    return song(f"    bars: |\n{rows(24, 4, names)}", head=head)


def _eight_strings() -> str:
    """Boxes of eight strings, all of them above the ninth fret."""
    shapes = "".join(
        f"  {chord}: {'-'.join(str(10 + at + string % 3) for string in range(8))}\n"
        for at, chord in enumerate(CHORDS)
    )
    head = f"title: Wide\ntempo: 96\ntuning: F#1 B1 E2 A2 D3 G3 B3 E4\nshapes:\n{shapes.rstrip()}"
    return song(f"    bars: |\n{rows(16)}", head=head)


def _thumbed() -> str:
    play = "p D. p2. U. D>. U>. p2 x p. D. p2. U. D>. U>. p2. x"
    return song(
        f"    per-row: 8\n    bars: |\n{rows(16)}\n    parts: {{guitar: {{strum: low}}}}",
        head=f'title: Low\ntempo: 96\nstrums:\n  low: {{step: 1/16, play: "{play}"}}',
    )


def _sung() -> str:
    """Long words under every bar of rows of eight, other ones on the second pass."""
    cells = " | ".join(
        [WORD[:40], "la la", "unbelievable circumstances", "oh", WORD, "a", "of", "a"]
    )
    long = " | ".join(["incomprehensibilities"] * 8)
    return song(
        f"    per-row: 8\n    words: ['| {cells} |', '| {long} |']\n    bars: |\n{rows(16, 8)}\n"
        f"    on-pass: {{2: {{words: ['| {long} |', '| {cells} |']}}}}",
        "[verse x2]",
    )


def _many_verses() -> str:
    """Eleven verses of one section, sung by lines whose names fill the margin."""
    lines = ", ".join(
        f"{{section: verse, label: 'Bars {n}, bars 1-2 ({n} of 9)', words: [verse {n}]}}"
        for n in range(1, 12)
    )
    return song('    bars: "| C | G | Am | F |"', f"[{lines}]")


def _bass(line: str) -> str:
    chords = ["C", "G(push) / Am /", "F(stop)", "Bb / / Eb(push)", "D7", "E", "A(ring)", "Ab"]
    return song(
        f"    per-row: 8\n    bars: |\n{rows(8, 4, chords)}\n    parts: {{bass: {{line: {line}}}}}",
        head="title: Low\ntempo: 96\ninstrument: five-string bass",
    )


def _signed(instrument: str, strings: str) -> str:
    """Every sign of tab on two staves, chords rolled, letters below, the palm above."""
    signs = (
        ("(12)", "<12>", "7b", "5~", "5.", "r", "0", "x"),
        ("0", "h2", "p0", "(3)", "<5>", "r", "9b~", "x"),
        ("10", "/12", "\\10", "(5)", "5.", "5~", "-", "<12>"),
    )
    lines = [[signs[(string + bar) % 3] for bar in range(3)] for string in range(len(strings))]
    tabs = [
        f"      {name}|{'|'.join(''.join(cell.ljust(4, '-') for cell in bar) for bar in line)}|"
        for name, line in zip(strings, lines, strict=True)
    ]
    hand = "|".join([("p" + "-" * 15 + "i" + "-" * 15)] * 3)
    palm = "|".join([("-" * 16 + "=" * 16)] * 3)
    tab = "\n".join([f"      RH|{hand}|", *tabs, f"      PM|{palm}|"])
    return song(
        f"    bars: |\n{rows(6)}\n    parts: {{guitar: {{riff: run}}, lead: {{riff: run}}}}",
        head=f"title: Signs\ntempo: 96\ninstrument: {instrument}\nriffs:\n  run:\n    step: 1/32\n"
        f"    chords: rolled\n    tab: |\n{tab}",
    )


def _beside_names() -> str:
    """Two staves that begin with signs where their names stand, over a legend of many signs."""
    palm = "=" * 8 + "-" * 8
    tabs = {
        "wide": ["7-----p5------5."] + ["-" * 16] * 5,
        "palm": ["9-----h11--7b---", "------r---------"] + ["-(5)-<12>---" + "-" * 4] * 4,
    }
    riffs = "".join(
        f"  {name}:\n    step: 1/16\n    tab: |\n      RH|p---------------|\n"
        + "".join(f"      {string}|{row}|\n" for string, row in zip("eBGDAE", lines, strict=True))
        + f"      PM|{palm}|\n" * (name == "palm")
        for name, lines in tabs.items()
    )
    return song(
        f"    bars: |\n{rows(8, chords=['G', 'D(push)', 'C(ring)', 'G(stop)'])}\n"
        "    parts: {guitar: {riff: wide}, lead: {riff: palm}}",
        head=f"title: Beside Names\ntempo: 96\nriffs:\n{riffs.rstrip()}",
    )


def _groups() -> str:
    names = [("word " * 20)[:60].strip(), LONG[:60], "a"]
    sections = "".join(f'  "{name}": {{bars: "| C | G |"}}\n' for name in names)
    first, second, _ = names
    return (
        f"title: Groups\ntempo: 96\nsections:\n{sections}form:\n"
        f"  - (({first} bars 1-2 x2, {second}) x3, (a x2, {second} x5) x2) x2\n"
        f"  - ({', '.join(names)}) x9\n  - a\n"
    )


_TRANSPOSED = "[verse, {section: verse, transpose: +2}, {section: verse, transpose: -3}]"
_SIXTEENTHS = "0h2p0-3~5b7/9-7-"

FORMS: dict[str, str] = {
    "32 bars of tab": tabbed(32),
    "60 bars of tab": tabbed(60),
    "120 bars": song(f"    bars: |\n{rows(120)}"),
    "120 bars of four": song(f"    bars: |\n{rows(120, 4, ['C G Am F', 'Dm7 E7 Bb A'])}"),
    "long chords": song(f"    bars: |\n{rows(32, 4, [DENSE])}"),
    "11/8": song(f"    bars: |\n{rows(24, 4, ['C / / G / / Am / / F /'])}",
                 head="title: Eleven\ntempo: {bpm: 96, beat: 1/4}\nmeter: 11/8 (3+3+3+2)"),
    "a meter a bar": _changing(48),
    "sixteenths": tabbed(32, _SIXTEENTHS, "1/16"),
    "24 shapes": _shapes(24),
    "40 shapes": _shapes(40),
    "84 shapes": _shapes(84),
    "words": _wordy(),
    "60 lines of form": _roadmap(60),
    "60 lines of form with notes": _roadmap(60, NOTE[:300]),
    "400 lines of form": _roadmap(400),
    "a line of form with a long word": _roadmap(9, LONG),
    "two staves": _two_staves(32),
    "two staves of sixteenths": _two_staves(32, "1/16", _SIXTEENTHS),
    "two staves, one bar a row": _two_staves(32, more="    per-row: 1\n"),
    "sixteenths, 16 a row": tabbed(32, _SIXTEENTHS, "1/16", "per-row: 16\n"),
    "one a row, 64 bars": song(f"    per-row: 1\n    bars: |\n{rows(64)}"),
    "strums, 16 a row": _strummed(32, 16),
    "uneven endings": _endings(2),
    "many endings": _endings(40),
    "transposed tab": tabbed(20).replace("[verse]", _TRANSPOSED.replace("-3", "+3")),
    "transposed": song(f"    bars: |\n{rows(60)}", _TRANSPOSED, "title: Up\ntempo: 96\nkey: D"),
    "capo 7": song(f"    bars: |\n{rows(40)}", head="title: High Up\ntempo: 96\nkey: G\ncapo: 7"),
    "a cue a bar": _cues(16, "first words of this line"),
    "long cues": _cues(16, NOTE[:120]),
    "long words in cues": _cues(4, LONG[:120]),
    "notes for 30 passes": _passes(30),
    "a suite": _many_sections(12, 24),
    "a suite of short parts": _many_sections(40, 4),
    "a bar of one unit": _one_unit(),
    "picks of triplets": _picked(6),
    "other scripts": _scripts(),
    "pushes": _pushed(32),
    "pushes in new meters": _changing(24, "(push)"),
    "boxes of four strings": _few_strings(),
    "boxes of eight strings": _eight_strings(),
    "short strokes and the thumb": _thumbed(),
    "words under every bar": _sung(),
    "eleven verses": _many_verses(),
    "a bass in sixteenths": _bass('{step: 1/16, play: "1 b3 5 8 13 - 5 3 1 - - 8 - 5 b7 8"}'),
    "every sign of tab": _signed("guitar", "eBGDAE"),
    "every sign on four strings": _signed("ukulele", "AECG"),
    "signs beside the names of staves": _beside_names(),
    "groups": _groups(),
}  # fmt: skip
