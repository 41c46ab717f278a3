"""Proof that a file is what its form says.

What to expect is worked out by separate arithmetic, what the file holds is read by readers that
didn't write it, and the two are compared within a tolerance that is computed.
"""

from backing.verify.compare import compare, expected_of
from backing.verify.expected.records import Expected
from backing.verify.expected.song_maths import expect
from backing.verify.proof import compare_bytes, compare_file, verify_bytes, verify_file
from backing.verify.report import Report

__all__ = [
    "Expected",
    "Report",
    "compare",
    "compare_bytes",
    "compare_file",
    "expect",
    "expected_of",
    "verify_bytes",
    "verify_file",
]
