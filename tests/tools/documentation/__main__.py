"""Build the documentation site into FOLDER: ``python -m tests.tools.documentation [FOLDER]``."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

NEEDS = "the site needs the extra docs: .venv/bin/pip install -c requirements.lock -e '.[docs]'"


def main() -> int:
    """Parse, build, say where it is."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.documentation",
                                     description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=Path("site"))
    parser.add_argument("--without-api", action="store_true",
                        help="leave out the pages made from docstrings")
    parser.add_argument("--without-numbers", action="store_true",
                        help="leave blank what the story and the records fill in")
    asked = parser.parse_args()
    since = time.perf_counter()
    try:
        import sphinx  # noqa: F401 - told from a package that a page is about

        from tests.tools.documentation.build import SiteError, build
    except ModuleNotFoundError as error:
        print(f"{error}: {NEEDS}", file=sys.stderr)
        return 1
    try:
        page = build(asked.folder, api=not asked.without_api,
                     numbers=not asked.without_numbers)
    except SiteError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"written in {time.perf_counter() - since:.0f} s: {page}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
