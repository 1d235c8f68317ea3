"""Run every check against the outside world and write one page: ``python -m tests.credibility``."""

import sys
from pathlib import Path

from tests.credibility.collect import groups
from tests.credibility.facts import by_kind, families, told
from tests.credibility.page import FOLDER, checks, counts, headline, write

if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    write(groups(), folder)
    counted = counts(checks(groups()))
    print(f"measured: {headline(families(groups()))}")
    for one in by_kind(told(groups())):
        print(f"{one.words}: {one.hold} of {one.facts} facts met, {one.records} records")
    print(f"{counted['pass']} checks hold, {counted['known miss']} known misses, "
          f"{counted['fail']} fail: {folder / 'index.html'}")
    sys.exit(1 if counted["fail"] else 0)
