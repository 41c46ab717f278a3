"""Songs for the page's tests, that use as much of the form language as the page shows."""

from __future__ import annotations

from pathlib import Path

FORMS = Path(__file__).resolve().parents[2] / "forms"
EVERY_KEY = Path(__file__).resolve().parents[1] / "data" / "every_key.yaml"
DEMOS = sorted([*FORMS.glob("*.yaml"), EVERY_KEY])

#: A pickup, swing, a meter that changes, endings, a push, a riff, a moved entry, a slowing end.
RICH = """\
title: Ferry at Noon
by: the project
tempo: 84
meter: 4/4
key: G
capo: 2
count-in: 1
pickup: "| N.C. / / D |"
feel: {swing: 2/1, on: 1/8}
riffs:
  oar:
    step: 1/8
    tab: |
      e|--------|----3---|
      B|--0---1h|3-----0-|
      G|----0---|--0b----|
      D|--------|--------|
      A|----2---|--------|
      E|3-------|3---2---|
parts:
  click: {subdivide: 1/8}
  bass: {line: walking}
  pad: {sound: strings, volume: 60}
sections:
  verse:
    bars: |
      | G | C | G/B Em7 | D7 |
      | G | % | C(push) D7(push) | G |
    words: ["A ferry at noon", "a ferry at one"]
  turn:
    bars: "| 2/4 C | 7/8 (2+2+3) G / D7 |"
    parts: {click: {plays: 1 of 2}, guitar: {pan: -20, volume: 70}}
  chorus:
    times: 2
    bars: |
      | C | G | Am7 D7 |
    endings:
      1: "| G |"
      2: "| G(stop) |"
    note: sing out here
    parts: {drums: {beat: shuffle}}
  close:
    tempo: {to: 60, over: 1}
    bars: "| C D7 | G(ring) |"
form:
  - verse
  - chorus
  - turn
  - {section: verse, bars: 5-8, parts: {lead: {riff: oar}}}
  - {section: chorus, label: Last chorus, transpose: 2}
  - close
"""

#: A short one for the browser: three tempos, a riff, every part on.
SHORT = """\
title: Short Crossing
tempo: 150
key: D
count-in: 1
riffs:
  wave:
    step: 1/8
    tab: |
      e|0---2---|
      B|--3---3-|
      G|--------|
      D|0-------|
      A|--------|
      E|--------|
parts: {drums: {beat: eighths}, pad: {sound: organ}, lead: {riff: wave}}
sections:
  verse: {bars: "| D | G | A7 / D / | Bm |"}
  chorus:
    tempo: 120
    bars: "| G | 3/4 A7 | 4/4 D | D |"
    words: ["over the water"]
    parts: {lead: off}
form: [verse x2, chorus, verse]
"""

#: Every sign of tab, of parts that play alike and apart, one of them where no fret can move.
SIGNS = """\
title: Signs on the Quay
tempo: 90
key: A
count-in: 0
riffs:
  fixed:
    step: 1/16
    chords: rolled
    tab: |
      RH|a-------a-----p-|----a-----------|
      RH|p---i---p-------|--------------m-|
      e |0-------0-r-----|----<12>--------|
      B |2---(2)-2-r---5.|(5)---------7~--|
      G |2---(2)-2-r-----|----<7>---------|
      D |2-------2-r---7.|x---------------|
      A |0-------0-r-----|--------3---3---|
      E |----------------|--------------5-|
      PM|--------------==|========------==|
  free:
    step: 1/8
    tab: |
      e |0--3/5--|
      B |2h3-5\\3-|
      G |--x-(5)-|
      D |r---5.--|
      A |3~--7b--|
      E |----7p5-|
  high: {step: 1/4, tab: "e|22--|\\nB|----|\\nG|----|\\nD|----|\\nA|----|\\nE|----|\\n"}
  fast:
    step: 1/16
    tab: |
      e |9~9~9~9~9~9~9~9~|
      B |----------------|
      G |----------------|
      D |----------------|
      A |----------------|
      E |----------------|
  low: {step: 1/4, tab: "G|----|\\nD|--2-|\\nA|---0|\\nE|13--|\\n"}
sections:
  first: {bars: "| A | D |", parts: {guitar: {riff: fixed}}}
  second: {bars: "| A | D |", parts: {guitar: {riff: free}, lead: {riff: fixed}, bass: {riff: low}}}
  both: {bars: "| A |", parts: {guitar: {riff: free}, lead: {riff: free}}}
  up: {bars: "| A |", parts: {lead: {riff: high}}}
  fast: {bars: "| A | A | A | A |", parts: {lead: {riff: fast}}}
form: [first, second, both, up, fast]
"""

WICKED = "</script><script>document.title = 'run'; throw 1</script>"
WICKED_TITLE = f"""\
title: "{WICKED}"
tempo: 100
sections: {{verse: {{bars: "| C | G |", note: "{WICKED}", words: ["{WICKED}"]}}}}
form: [{{section: verse, label: "{WICKED}"}}]
"""
