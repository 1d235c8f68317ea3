"""Results as a table of numbers for further work: a pandas data frame, where pandas is installed.

    table(compare(scenario)).pivot(index="airspeed_m_s", columns="candidate", values="net_thrust_N")

Columns carry their SI units in their names, as in ``curves.csv``; no value is NaN.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.report.comparison.results_file import curve_columns
from thrustlapse.study.comparison import Comparison

if TYPE_CHECKING:
    import pandas


def table(result: Comparison | OperatingPoint) -> pandas.DataFrame:
    """One row for each candidate and airspeed of a comparison, or for each operating point.

    ``attrs`` of the frame of a comparison hold the scenario's digest, the version and the footing.

    Raises
    ------
    ModuleNotFoundError
        Without pandas, with what to install.
    """
    try:
        import pandas
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            "a table needs pandas: pip install 'thrustlapse[table]'", name="pandas") from missing

    if isinstance(result, OperatingPoint):
        return pandas.DataFrame(curve_columns(result))
    frame = pandas.concat(
        [pandas.DataFrame({"candidate": name, **curve_columns(one.curve)})
         for name, one in result.candidates.items()], ignore_index=True)
    frame.attrs.update(scenario_sha256=result.scenario_digest, thrustlapse=result.version,
                       footing=result.footing)
    return frame

