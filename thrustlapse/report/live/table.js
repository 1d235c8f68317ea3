// Reads a picture out of the table that the page carries: what the machines do between the operating
// points that were flown beforehand, and what the airframe then makes of it. Plain formulas; the
// drag is that of thrustlapse/aircraft/drag.py, the level speeds those of aircraft/level_flight.py.
"use strict";
const lapse = {};

lapse.GRAVITY = 9.80665;
lapse.FINE = 241;  // airspeeds between which balances and crossovers are looked for
lapse.UNKNOWN = -32768;  // how the table writes "no value"

// A packed array of whole numbers, as base64, back in its unit.
lapse.unpack = function (packed) {
  const bytes = Uint8Array.from(atob(packed.data), (letter) => letter.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  const values = new Float64Array(bytes.length / 2);
  for (let i = 0; i < values.length; i += 1) {
    const whole = view.getInt16(2 * i, true);
    values[i] = whole === lapse.UNKNOWN ? NaN : whole * packed.step;
  }
  return values;
};

lapse.unpackSets = function (data) {
  return Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
};

// Weights of the nodes about a place: a cubic through four, and the straight line through two, for
// where one of the four has no value.
lapse.weights = function (nodes, at) {
  const last = nodes.length - 1;
  if (last < 1) return { line: [[0, 1]], cubic: [[0, 1]] };
  let low = 0;
  while (low < last - 1 && nodes[low + 1] <= at) low += 1;
  const share = (at - nodes[low]) / (nodes[low + 1] - nodes[low]);
  const line = [[low, 1 - share], [low + 1, share]].filter((pair) => pair[1] !== 0);
  const first = Math.max(0, Math.min(low - 1, last - 3));
  const near = [];
  for (let k = first; k <= Math.min(first + 3, last); k += 1) near.push(k);
  const cubic = near.map((k) => [k, near.reduce((product, m) => (
    m === k ? product : product * (at - nodes[m]) / (nodes[k] - nodes[m])), 1)]
  ).filter((pair) => pair[1] !== 0);
  return { line, cubic };
};

// Sum over weighted slices; NaN where a slice that counts has no value.
lapse.along = function (slices, weights, length) {
  const out = new Float64Array(length);
  for (let i = 0; i < length; i += 1) {
    let sum = 0;
    for (const [place, weight] of weights.cubic) sum += weight * slices(place, i);
    if (Number.isNaN(sum)) {
      sum = 0;
      for (const [place, weight] of weights.line) sum += weight * slices(place, i);
    }
    out[i] = sum;
  }
  return out;
};

lapse.nearest = function (nodes, at) {
  let best = 0;
  nodes.forEach((node, place) => {
    if (Math.abs(node - at) < Math.abs(nodes[best] - at)) best = place;
  });
  return best;
};

// One quantity of one candidate over the tabulated airspeeds, at a nozzle and a drive setting.
lapse.curve = function (table, one, values, state) {
  const speeds = table.airspeed.length;
  const drives = table.drive.values.length;
  const nozzle = lapse.weights(one.diameter, one.diameter.length > 1 ? state.nozzle[one.name] : 0);
  const flat = lapse.along((place, i) => values[place * drives * speeds + i], nozzle,
    drives * speeds);
  return lapse.along((place, i) => flat[place * speeds + i],
    lapse.weights(table.drive.values, state.drive), speeds);
};

lapse.at = function (table, curve, airspeed) {
  if (airspeed > table.airspeed[table.airspeed.length - 1] * (1 + 1e-9)) return NaN;
  return lapse.along((place) => curve[place], lapse.weights(table.airspeed, airspeed), 1)[0];
};

// Level drag [N] at a mass: parasite, lift-dependent, compressibility.
lapse.drag = function (table, state, mass, airspeed) {
  const a = table.airframe;
  const force = 0.5 * table.density * airspeed * airspeed * a.wing_area;
  const parasite = 0.5 * table.density * airspeed * airspeed * state.drag_area;
  const lift = mass * lapse.GRAVITY / force;
  const induced = force * a.induced_factor * (lift - a.lift_of_least_drag) ** 2;
  const beyond = Math.max(airspeed / table.speed_of_sound - a.drag_rise_mach, 0);
  return { parasite, induced, rise: force * a.rise_factor * beyond ** 4,
    total: parasite + induced + force * a.rise_factor * beyond ** 4 };
};

lapse.stall = function (table, mass) {
  const a = table.airframe;
  return Math.sqrt(2 * mass * lapse.GRAVITY / (table.density * a.wing_area * a.greatest_lift));
};

lapse.grid = function (from, to) {
  return Array.from({ length: lapse.FINE }, (_, i) => from + (to - from) * i / (lapse.FINE - 1));
};

// Where a difference changes its sign along a grid, in straight lines between its points.
lapse.crossings = function (grid, values) {
  const found = [];
  for (let i = 1; i < grid.length; i += 1) {
    const [before, after] = [values[i - 1], values[i]];
    if (Number.isFinite(before) && Number.isFinite(after) && (before > 0) !== (after > 0)) {
      const share = before / (before - after);
      found.push({ airspeed: grid[i - 1] + share * (grid[i] - grid[i - 1]), rising: after > before });
    }
  }
  return found;
};

// The level speed reached from the launch: { speed, least, why }.
lapse.topSpeed = function (table, state, one, thrust) {
  const mass = state.mass + one.mass;
  const stall = lapse.stall(table, mass);
  const launch = table.airframe.launch_speed;
  if (launch < stall) return { speed: NaN, least: false, why: "launch" };
  const highest = table.airspeed[table.airspeed.length - 1];
  const excess = (v) => lapse.at(table, thrust, v) - lapse.drag(table, state, mass, v).total;
  const start = excess(launch);
  if (!Number.isFinite(start)) return { speed: NaN, least: false, why: "unknown" };
  const up = lapse.grid(launch, highest);
  const above = up.map(excess);
  if (start > 0) {
    for (let i = 1; i < up.length; i += 1) {
      if (!Number.isFinite(above[i])) return { speed: up[i - 1], least: true, why: "end" };
      if (above[i] <= 0) {
        return { speed: lapse.crossings([up[i - 1], up[i]], [above[i - 1], above[i]])[0].airspeed,
          least: false, why: "" };
      }
    }
    return { speed: highest, least: true, why: "end" };
  }
  const down = lapse.grid(stall, launch);
  const slower = lapse.crossings(down, down.map(excess)).filter((one_) => !one_.rising);
  if (slower.length) return { speed: slower[slower.length - 1].airspeed, least: false, why: "" };
  return { speed: NaN, least: false, why: "short" };
};

// A candidate's band of draws, carried along with its curve: as wide as the machine is strong.
lapse.band = function (band, thrust) {
  if (!band || !(band.rest > 0)) return null;
  const times = thrust[0] / band.rest;
  const side = (values) => thrust.map((value, i) => (
    values[i] === null ? NaN : value + times * values[i]));
  return { low: side(band.low), high: side(band.high) };
};

// Everything the page shows at one setting of the handles.
lapse.picture = function (table, state) {
  const fly = table.airframe !== null;
  const highest = table.airspeed[table.airspeed.length - 1];
  const candidates = table.candidates.map((one) => {
    const thrust = lapse.curve(table, one, one.values.thrust, state);
    const current = lapse.curve(table, one, one.values.current, state);
    const motor = lapse.curve(table, one, one.values.motor_current, state);
    const mass = state.mass + one.mass;
    const row = one.diameter.length > 1 ? lapse.nearest(one.diameter, state.nozzle[one.name]) : 0;
    const place = (row * table.drive.values.length
      + lapse.nearest(table.drive.values, state.drive)) * table.airspeed.length
      + lapse.nearest(table.airspeed, state.airspeed);
    const most = (values) => Array.from(values).filter(Number.isFinite)
      .reduce((best, value) => Math.max(best, value), -Infinity);
    return {
      name: one.name, ink: one.ink, dash: one.dash, thrust, current, mass,
      drag: fly ? table.airspeed.map((v) => (v > 0 && v >= 0.9 * lapse.stall(table, mass)
        ? lapse.drag(table, state, mass, v).total : NaN)) : null,
      static_thrust: lapse.at(table, thrust, 0),
      thrust_here: lapse.at(table, thrust, state.airspeed),
      drag_here: fly && state.airspeed >= lapse.stall(table, mass)
        ? lapse.drag(table, state, mass, state.airspeed).total : NaN,
      current_here: lapse.at(table, current, state.airspeed),
      band: lapse.band(one.band, thrust),
      most_current: most(current), most_motor_current: most(motor),
      top: fly ? lapse.topSpeed(table, state, one, thrust) : null,
      notes: table.flag_sets[one.values.flags[place]],
    };
  });
  const crossovers = [];
  for (let i = 0; i < candidates.length; i += 1) {
    for (let k = i + 1; k < candidates.length; k += 1) {
      const [a, b] = [candidates[i], candidates[k]];
      const from = fly ? Math.max(lapse.stall(table, a.mass), lapse.stall(table, b.mass)) : 0;
      const left = (one, v) => lapse.at(table, one.thrust, v)
        - (fly ? lapse.drag(table, state, one.mass, v).induced : 0);
      const grid = from < highest ? lapse.grid(from, highest) : [];
      for (const found of lapse.crossings(grid, grid.map((v) => left(a, v) - left(b, v)))) {
        const thrust = left(a, found.airspeed);
        crossovers.push({ airspeed: found.airspeed, thrust,
          faster: found.rising ? a.name : b.name, slower: found.rising ? b.name : a.name,
          drag_area: fly ? thrust / (0.5 * table.density * found.airspeed ** 2) : NaN });
      }
    }
  }
  crossovers.sort((a, b) => a.airspeed - b.airspeed);
  return { airspeed: table.airspeed, candidates, crossovers, state };
};
