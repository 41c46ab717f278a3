"""Versions of forms as files: `one` makes and proves a version, `parallel` makes many at once
(each in a `worker`), `forms` does it for forms by their paths."""
