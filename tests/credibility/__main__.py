"""Run every check against the outside world and write one page: ``python -m tests.credibility``."""

import sys
from pathlib import Path

from tests.credibility.collect import groups
from tests.credibility.page import FOLDER, checks, counts, write

if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    write(groups(), folder)
    counted = counts(checks(groups()))
    print(f"{counted['pass']} checks hold, {counted['known miss']} known misses, "
          f"{counted['fail']} fail: {folder / 'index.html'}")
    sys.exit(1 if counted["fail"] else 0)
