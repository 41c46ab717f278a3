"""Versions of forms as files: `one` makes and proves a version, `parallel` makes several at once
(each in a `worker`), and `forms` does this for forms given by their paths.
"""
