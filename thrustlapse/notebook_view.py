"""What a notebook shows of a result, without a call: its tables and its figure."""

from __future__ import annotations

from importlib import import_module


class NotebookView:
    """Base of what a notebook shows as HTML, drawn by :mod:`thrustlapse.notebook` when a
    notebook asks for it: whoever computes loads neither templates nor figures."""

    def _repr_html_(self) -> str:
        return str(import_module("thrustlapse.notebook").as_html(self))
