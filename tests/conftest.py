"""Settings shared by all tests."""

import os

import pytest
from hypothesis import settings

settings.register_profile("everywhere", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "everywhere")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """With ``-n``, each worker takes one stretch of the files, and a part of another's when it is
    done: what a file works out for its tests, or a folder shares, is worked out once. As ``load``,
    which is what ``-n`` asks for, the last files would be dealt out test by test."""
    if config.getoption("dist") != "load":
        return None
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)
