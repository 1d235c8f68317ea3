"""What Sphinx needs to know; ``python -m tests.tools.documentation`` fills pages and calls it."""

from thrustlapse import __version__

project = "thrustlapse"
author = "The thrustlapse team"
copyright = author
release = version = __version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon",
              "tests.tools.documentation.formulas", "tests.tools.documentation.docstrings"]
source_suffix = {".md": "markdown", ".rst": "restructuredtext"}
exclude_patterns: list[str] = []

html_theme = "furo"
html_title = "thrustlapse"
html_math_renderer = "native"
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_copy_source = False
html_show_search_summary = False  # it would fetch pages, which a page opened as a file may not
html_show_sourcelink = False
html_show_copyright = False
html_last_updated_fmt = None
smartquotes = False
_INK = {"font-stack": 'system-ui, -apple-system, "Segoe UI", "DejaVu Sans", sans-serif',
        "font-stack--monospace": 'ui-monospace, "DejaVu Sans Mono", monospace'}
html_theme_options = {
    "light_css_variables": {**_INK, "color-background-primary": "#fbfbf8",
                            "color-brand-primary": "#00527f", "color-brand-content": "#00527f"},
    "dark_css_variables": {"color-background-primary": "#17181a",
                           "color-brand-primary": "#84c8f4", "color-brand-content": "#84c8f4"},
    "navigation_with_keys": False,
}

myst_enable_extensions = ["dollarmath", "colon_fence", "attrs_inline", "deflist"]
myst_heading_anchors = 3

napoleon_google_docstring = False
napoleon_numpy_docstring = True
napoleon_use_rtype = False
napoleon_preprocess_types = False
autodoc_member_order = "bysource"
autodoc_use_type_comments = False
autodoc_typehints = "signature"
autodoc_typehints_format = "short"
autodoc_default_options = {"members": True}
autodoc_type_aliases = {name: name for name in (
    "Array", "BoolArray", "IntArray", "Values", "Fly", "KeyPath", "Residual", "PairResidual")}
python_use_unqualified_type_names = True
python_maximum_signature_line_length = 88
add_module_names = False
toc_object_entries = False  # modules are enough beside a page; five thousand names are slow
