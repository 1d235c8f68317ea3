"""Formulas as MathML, which browsers draw by themselves: no script, no picture, no network.

An extension of Sphinx. The translation from TeX is the one that docutils carries.
"""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml


def _inline(self: Any, node: nodes.math) -> None:
    self.body.append(tex2mathml(node.astext()))
    raise nodes.SkipNode


def _display(self: Any, node: nodes.math_block) -> None:
    # a wide formula scrolls by itself; tabindex lets the keyboard scroll it
    self.body.append('<div class="formula" tabindex="0">'
                     f"{tex2mathml(node.astext().strip(), as_block=True)}</div>\n")
    raise nodes.SkipNode


def setup(app: Any) -> dict[str, bool]:
    """Make ``html_math_renderer = "native"`` known."""
    app.add_html_math_renderer("native", inline_renderers=(_inline, None),
                               block_renderers=(_display, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
