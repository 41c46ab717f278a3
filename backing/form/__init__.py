"""What the writer wrote: reading a form's YAML into frozen dataclasses."""

from backing.form.model import Form
from backing.form.reader import read_form, read_form_text

__all__ = ["Form", "read_form", "read_form_text"]
