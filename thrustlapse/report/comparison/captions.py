"""Every figure of a comparison: what draws it, how to read it, and a description in its place.

A description carries the figure's numbers, for a reader who cannot see it.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.glossary import quantity, shown
from thrustlapse.report.aircraft import captions as captions_aircraft
from thrustlapse.report.comparison.break_even import MOST_PANELS, ties
from thrustlapse.report.comparison.figure_break_even import (
    figure_break_even,
    figure_useful_power,
)
from thrustlapse.report.comparison.figure_thrust import (
    distinct_footings,
    figure_footings,
    figure_lapse,
    figure_thrust,
)
from thrustlapse.report.comparison.power_breakdown import USES, breakdowns
from thrustlapse.report.comparison.ranking import (
    airframe_crossings,
    known_to,
    pulls,
    runs,
    static_order,
    thrust_crossings,
    tops,
)
from thrustlapse.report.comparison.remembered import moment
from thrustlapse.report.comparison.verdict import compared, measured
from thrustlapse.report.flight import captions as captions_flight
from thrustlapse.report.machine.figures import (
    figure_drive,
    figure_efficiency,
    figure_nozzle,
    figure_watts,
)
from thrustlapse.report.number_format import diameter, listed, newtons, number, percent, short_speed
from thrustlapse.report.plot import Plot
from thrustlapse.report.uncertainty import captions as captions_sure
from thrustlapse.study.comparison import AS_BUILT, CandidateResult, Comparison


def _gaps(comparison: Comparison) -> list[str]:
    """What the figure cannot show, said."""
    said = []
    short = [candidate for candidate in comparison.candidates
             if known_to(comparison, candidate) < float(comparison.airspeed[-1])]
    holes = [candidate for candidate, result in comparison.candidates.items()
             if not np.isfinite(result.measure).any()]
    if short:
        said.append(f"Lines of {listed(short)} end where map, table or pack end (at a cross, if it "
                    "is inside the frame): nothing is known beyond.")
    if holes:
        said.append(f"{listed(holes)} has no value at any of these airspeeds.")
    return said


def _framed(comparison: Comparison) -> list[str]:
    falls = any(bool(np.any(result.curve.installed_thrust < 0.0))
                for result in comparison.candidates.values())
    return [*_gaps(comparison),
            *(["Lines that leave the frame below go on falling."] if falls else [])]


def _repeated(comparison: Comparison) -> list[str]:
    """Footings that give the same curves as another, and stand in its panel."""
    same = [f"{listed(others)} {'gives' if len(others) == 1 else 'give'} the same curves as "
            f"{footing} here, and {'stands' if len(others) == 1 else 'stand'} in its panel."
            for footing, others in distinct_footings(comparison).items() if others]
    return [*(one[0].upper() + one[1:] for one in same), *_framed(comparison)]


def _banded(comparison: Comparison) -> list[str]:
    return [*captions_sure.band_note(comparison), *_framed(comparison)]


# Descriptions ------------------------------------------------------------------------------------


def _range(comparison: Comparison) -> str:
    x = comparison.airspeed
    if x.size == 1:
        return f"at {short_speed(float(x[0]))}"
    return f"from {short_speed(float(x[0]))} to {short_speed(float(x[-1]))}"


def _ends(comparison: Comparison, result: CandidateResult, values: np.ndarray,
          say: str = "{} N") -> str:
    """First and last value of a curve."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return f"{result.name} has no value"
    first, last = int(known[0]), int(known[-1])
    x = comparison.airspeed
    text = f"{result.name} {say.format(number(float(values[first])))} at {short_speed(x[first])}"
    if last == first:
        return text
    return f"{text}, {say.format(number(float(values[last])))} at {short_speed(x[last])}"


def _thrust(comparison: Comparison) -> str:
    parts = [_ends(comparison, result, result.curve.installed_thrust)
             for result in comparison.candidates.values()]
    text = f"Line chart of thrust {_range(comparison)}. Installed thrust: {'; '.join(parts)}."
    crossings = [f"{one.winner_above} overtakes {one.winner_below} at "
                 f"{short_speed(one.airspeed)} and {newtons(one.net_thrust)}"
                 for one in thrust_crossings(comparison) if one.net_thrust > 0.0]
    text += (f" Crossovers: {'; '.join(crossings)}." if crossings
             else " No crossover with thrust left.")
    if comparison.drag_area is None:
        return text
    speeds = [f"{top.name} {'at least ' if top.least else ''}{short_speed(top.speed)}"
              for top in tops(comparison)]
    text += (f" Level top speeds, where thrust meets the airframe's drag: {listed(speeds)}."
             if speeds else " No candidate holds level flight.")
    own = [short_speed(one.airspeed) for one in airframe_crossings(comparison) if pulls(one)]
    return text + (f" With induced drag taken off, crossovers at {listed(own)}." if own else "")


def _useful_power(comparison: Comparison) -> str:
    x, parts = comparison.airspeed, []
    for name, result in comparison.candidates.items():
        useful = x * result.curve.installed_thrust
        best = comparison.best_nozzles.get(name)
        text = f"{name} has no value"
        if np.isfinite(useful).any():
            most = int(np.nanargmax(useful))
            text = f"{name} at most {number(useful[most])} W at {short_speed(x[most])}"
        if best is not None and np.isfinite(best.best_thrust).any():
            most = int(np.nanargmax(x * best.best_thrust))
            text += (f", with the best exit {number(x[most] * best.best_thrust[most])} W at "
                     f"{short_speed(x[most])}")
        parts.append(text)
    text = (f"Line chart of installed thrust times airspeed {_range(comparison)}. "
            f"{'; '.join(parts)}.")
    speeds = [f"{one.name} {short_speed(one.level.top_speed)}" for one
              in comparison.candidates.values() if one.level is not None and one.at_top is not None]
    return text + (f" It meets the power that level flight needs at: {listed(speeds)}."
                   if speeds else "")


def _break_even(comparison: Comparison) -> str:
    about, shown, parts = moment(comparison), ties(comparison), []
    for name in list(dict.fromkeys(one.candidate for one in shown))[:MOST_PANELS]:
        needs = [one for one in shown if one.candidate == name and one.exit == AS_BUILT]
        known = np.flatnonzero(np.any([np.isfinite(one.needed_chain_efficiency_jet_held)
                                       for one in needs], axis=0))
        if known.size == 0:
            parts.append(f"{name}: no value")
            continue
        place = int(known[-1])
        if about is not None and about.place is not None and about.place in known:
            place = about.place
        ahead = [one for one in needs if one.needed_chain_efficiency_jet_held[place]
                 > one.own_chain_efficiency[place]]
        wants = [f"{percent(float(one.needed_chain_efficiency_jet_held[place]))} at its jet speed "
                 f"and {percent(float(one.needed_chain_efficiency_exit_held[place]))} at its exit "
                 f"to tie with {one.rival}" for one in ahead]
        parts.append(f"{name} has {percent(float(needs[0].own_chain_efficiency[place]))} at "
                     f"{short_speed(float(comparison.airspeed[place]))} and "
                     + (f"needs {listed(wants)}" if wants else "is behind none that pushes"))
    return (f"Line charts of chain efficiency, own and needed for a tie, {_range(comparison)}. "
            f"{'; '.join(parts)}.")


def _lapse(comparison: Comparison) -> str:
    parts = []
    for name, result in comparison.candidates.items():
        lapse = result.lapse
        known = np.flatnonzero(np.isfinite(lapse.thrust_ratio) & np.isfinite(lapse.speed_ratio))
        if known.size == 0:
            parts.append(f"{name} has no value")
            continue
        middle = int(known[np.argmin(np.abs(lapse.speed_ratio[known] - 0.5))])
        parts.append(f"{name} keeps {percent(lapse.thrust_ratio[middle])} at a speed ratio of "
                     f"{number(lapse.speed_ratio[middle], 2)} (constant power: "
                     f"{percent(lapse.constant_power[middle])}, open rotor: "
                     f"{percent(lapse.open_rotor[middle])})")
    return ("Line chart of the share of static thrust left against airspeed over jet speed at "
            f"rest, beside four ideal theories. {'; '.join(parts)}.")


def _watts(comparison: Comparison) -> str:
    parts = []
    for name in comparison.candidates:
        for one in breakdowns(comparison, name):
            shares = [f"{use.name} {100.0 * part / one.power:.0f} %"
                      for use, part in zip(USES, one.parts, strict=True) if part != 0.0]
            parts.append(f"{name}, {one.when}, {one.power:.0f} W: {', '.join(shares)}")
    return f"Stacked bars of where the pack's power goes. {'; '.join(parts)}."


def _nozzle(comparison: Comparison) -> str:
    parts = []
    for name, result in comparison.candidates.items():
        study = result.nozzle
        if study is None:
            continue
        best = [f"{diameter(size)} and {newtons(thrust)} at {short_speed(airspeed)}"
                for airspeed, size, thrust in zip(study.airspeed.tolist(),
                                                  study.best_diameter.tolist(),
                                                  study.best_thrust.tolist(), strict=True)
                if np.isfinite(size)]
        known = listed(best) if best else "no value"
        parts.append(f"{name}, built with {diameter(study.fixed_diameter)}: best exits {known}")
    return f"Line charts of thrust against nozzle exit diameter. {'; '.join(parts)}."


def _efficiency(comparison: Comparison) -> str:
    parts = []
    for name, result in comparison.candidates.items():
        values = result.curve.overall_efficiency
        known = np.flatnonzero(np.isfinite(values) & (values > 0.0))
        if known.size:
            best = int(known[np.argmax(values[known])])
            parts.append(f"{name} is best overall with {percent(values[best])} at "
                         f"{short_speed(comparison.airspeed[best])}")
        ideal, net = result.at_rest.ideal_thrust.item(), result.at_rest.net_thrust.item()
        if ideal > 0.0:
            parts.append(f"{name} makes {percent(net / ideal)} of its ideal thrust at rest")
    drawn = listed([*(quantity(name).words for name in shown("figure")), "share of ideal thrust"])
    return (f"Line charts of {drawn} against airspeed. "
            f"{'; '.join(parts) if parts else 'None has a value'}.")


def _drive(comparison: Comparison) -> str:
    parts = []
    for result in comparison.candidates.values():
        held = [f"{limit} from {short_speed(start)} to {short_speed(stop)}" for start, stop, limit
                in runs(comparison.airspeed, result.curve.drive_limit.tolist()) if limit != "none"]
        limits = listed(held) if held else "no limit known"
        parts.append(_ends(comparison, result, result.curve.electrical_power, "{} W")
                     + f"; limited by {limits}")
    return (f"Electrical power {_range(comparison)}, and the limit that holds the shaft speed. "
            f"{'. '.join(parts)}.")


def _footings(comparison: Comparison) -> str:
    order = [f"{name} {measured(comparison, value)}" for name, value in static_order(comparison)]
    text = (f"Line charts of what each footing compares: {listed(comparison.footing_curves)}."
            if comparison.footing_curves else "No footing has curves.")
    return text + (f" On the footing used, {compared(comparison)} at rest: {listed(order)}."
                   if order else "")


PLOTS: dict[str, Plot] = {plot.name: plot for plot in (
    Plot(
        name="thrust", title="Thrust against airspeed",
        draw=figure_thrust, describe=_thrust, notes=_banded,
        caption="Thrust of all units of each candidate against airspeed: bold, installed thrust; "
                "thin, net thrust before the candidate's own external drag. Grey: drag of the "
                "airframe in level flight above the stall, a band where the candidates' masses "
                "differ. Rings: one candidate overtakes another in installed thrust. Stars: level "
                "top speed reached from the launch."),
    Plot(
        name="useful_power", title="Useful power against airspeed",
        draw=figure_useful_power, describe=_useful_power, notes=_framed,
        caption="Installed thrust of all units times airspeed: bold, as built; thin, with the "
                "nozzle exit of most thrust at each airspeed, of which strength and heat are not "
                "asked. Grey: drag times airspeed, the power that level flight needs, a band "
                "where the candidates' masses differ. Stars: level top speed reached from the "
                "launch."),
    Plot(
        name="break_even", title="Chain efficiency needed and own",
        draw=figure_break_even, describe=_break_even,
        caption="One panel for each candidate. Thick: the chain efficiency it has (net thrust "
                "times the mean of jet speed and airspeed, over the power at the pack); thin in "
                "its colour: with the best exit at each airspeed. In the colours of the others: "
                "what it would need to tie with them as built, at its own jet speed (marked, the "
                "exit grows) and at its own exit (thin, the jet gets faster). In the grey above "
                "100 % no machine of that jet speed, or that exit, can do it at that power, "
                "whoever builds it. Where its own line lies above, it leads."),
    *captions_aircraft.PLOTS, *captions_flight.PLOTS,
    Plot(
        name="lapse", title="Lapse in reduced form",
        draw=figure_lapse, describe=_lapse, notes=_banded,
        caption="Net thrust over net thrust at rest against airspeed over jet speed at rest (far "
                "wake, for an open rotor). Grey: incompressible theories that are one curve for "
                "every machine, to check by hand. A line lies above 'constant power' where its "
                "machine is nearer to its ideal in flight than at rest."),
    Plot(
        name="watts", title="Where the watts go",
        draw=figure_watts, describe=_watts,
        caption="Shares of the electrical power at the pack terminals, at rest and at the level "
                "top speed; each bar adds up to the power beside it. Heat inside the pack comes "
                "on top. Motor heat given to the air is counted once, with the motor; where motor "
                "and controller are known only by their joint efficiency, both are in 'motor'. Of "
                "an open rotor, profile drag and swirl are in 'rotor'."),
    Plot(
        name="nozzle", title="Nozzle exit against thrust",
        draw=figure_nozzle, describe=_nozzle,
        caption="Installed thrust of all units against nozzle exit diameter, one line per "
                "airspeed; dots: the best exit at each; dashed: the exit as built."),
    Plot(
        name="efficiency", title="Efficiency against airspeed",
        draw=figure_efficiency, describe=_efficiency, notes=_gaps,
        caption=" ".join([
            "In reading order:", *(f"{quantity(name).meaning}," for name in shown("figure")),
            "and net thrust over the most that momentum theory allows for the same shaft power "
            "and area. Only where there is thrust to use."])),
    Plot(
        name="drive", title="Electrical power and drive limit",
        draw=figure_drive, describe=_drive, notes=_gaps,
        caption="Above: electrical power at the pack terminals. Below: the limit of the drive "
                "that holds the shaft speed, by airspeed."),
    Plot(
        name="footings", title="The same curves on every basis of comparison",
        draw=figure_footings, describe=_footings, notes=_repeated,
        caption="What each footing compares, against airspeed. Per installed mass and per frontal "
                "area the candidates run as given."),
    *captions_sure.PLOTS,
)}
"""Every figure of a comparison, in the order of the page."""


def caption(comparison: Comparison, name: str) -> str:
    """How to read a figure, and what it leaves out."""
    return " ".join([PLOTS[name].caption, *PLOTS[name].notes(comparison)])


def alt_text(comparison: Comparison, name: str) -> str:
    """A figure in words, with its numbers."""
    return PLOTS[name].describe(comparison)
