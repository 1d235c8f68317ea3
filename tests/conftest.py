"""Settings shared by all tests."""

import os

from hypothesis import settings

settings.register_profile("everywhere", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "everywhere")
