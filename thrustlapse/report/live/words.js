// Numbers and sentences as the rest of the page writes them; the sentences themselves come with the
// page, so that one place words them.
"use strict";

lapse.number = function (value, digits) {
  if (!Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  let places = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
  const rounded = Number(value.toFixed(Math.max(Math.min(places, 20), 0)));
  if (rounded !== 0) places = digits - 1 - Math.floor(Math.log10(Math.abs(rounded)));
  const text = places >= 0 ? rounded.toFixed(Math.min(places, 20))
    : String(Math.round(rounded / 10 ** -places) * 10 ** -places);
  return text.replace("-", "−");
};

lapse.speed = (v) => `${lapse.number(v, 3)} m/s (${Math.round(3.6 * v)} km/h)`;
lapse.force = (f) => (Number.isFinite(f) ? `${lapse.number(f, 3)} N` : "–");
lapse.area = (a) => `${lapse.number(1e4 * a, 3)} cm²`;

lapse.filled = function (template, values) {
  return template.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? values[key] : whole));
};

lapse.listed = function (items) {
  return items.length < 2 ? items.join("") : `${items.slice(0, -1).join(", ")} and ${
    items[items.length - 1]}`;
};

lapse.sentence = (text) => `${text.charAt(0).toUpperCase()}${text.slice(1)}${
  /[.?!]$/.test(text) ? "" : "."}`;

// "the blower", where a candidate's name is a noun that is spoken of (report/articles.py).
lapse.withArticles = function (text, words, names) {
  const nouns = words.nouns.split(" ").filter((one) => names.includes(one));
  if (!nouns.length) return text;
  const spoken = new RegExp(`(?<![\\w-])(${nouns.join("|")})(?![\\w:-]| [\\d−])`, "g");
  return text.replace(spoken, (name, _, place) => {
    const before = /(\w+) $/.exec(text.slice(0, place));
    return before && words.before.split(" ").includes(before[1].toLowerCase()) ? name
      : `the ${name}`;
  });
};

// Who wins, in one or two sentences.
lapse.verdict = function (words, picture) {
  const names = picture.candidates.map((one) => one.name);
  return lapse.verdictTexts(words, picture).filter((text) => text)
    .map((text) => lapse.sentence(lapse.withArticles(text, words, names))).join(" ");
};

lapse.verdictTexts = function (words, picture) {
  const known = picture.candidates.filter((one) => Number.isFinite(one.static_thrust));
  if (!known.length) return [words.nothing];
  const strongest = known.reduce((a, b) => (b.static_thrust > a.static_thrust ? b : a));
  const rest = lapse.filled(words.rest, { name: strongest.name,
    force: lapse.force(strongest.static_thrust) });
  if (picture.candidates[0].top === null) {
    const passed = picture.crossovers.filter((one) => one.thrust > 0)
      .map((one) => lapse.filled(words.overtakes, { name: one.faster, other: one.slower,
        speed: lapse.speed(one.airspeed) }));
    return [rest, ...passed];
  }
  const flying = picture.candidates.filter((one) => Number.isFinite(one.top.speed));
  if (!flying.length) return [words.none, rest];
  flying.sort((a, b) => b.top.speed - a.top.speed);
  const best = flying[0];
  const told = (one) => lapse.filled(one.top.least ? words.least : words.slower, { name: one.name,
    speed: lapse.speed(one.top.speed) });
  const others = [...flying.slice(1).map(told), ...picture.candidates
    .filter((one) => !Number.isFinite(one.top.speed))
    .map((one) => lapse.filled(words.grounded, { name: one.name }))];
  const first = lapse.filled(best.top.least ? words.fastest_known : words.fastest,
    { name: best.name, speed: lapse.speed(best.top.speed) })
    + (others.length ? `; ${lapse.listed(others)}` : "");
  const pulling = picture.crossovers.filter((one) => one.thrust > 0);
  const passed = pulling.filter((one) => one.faster === best.name
    && one.airspeed <= best.top.speed);
  const ahead = pulling.filter((one) => one.slower === best.name
    && one.airspeed > best.top.speed);
  // a crossing that the top speeds do not settle is listed below and not worded here
  let second = pulling.some((one) => one.slower === best.name) ? "" : words.alone;
  if (passed.length) {
    second = lapse.filled(words.beyond, { name: best.name, other: passed[passed.length - 1].slower,
      speed: lapse.speed(passed[passed.length - 1].airspeed) });
  } else if (ahead.length) {
    second = lapse.filled(words.would, { name: ahead[0].faster, best: best.name,
      speed: lapse.speed(ahead[0].airspeed), area: lapse.area(ahead[0].drag_area),
      own: lapse.area(picture.state.drag_area) });
  }
  return [first, second, rest];
};

// Which limits the setting breaks, of those the table knows.
lapse.warnings = function (table, words, picture) {
  const found = [];
  picture.candidates.forEach((one, place) => {
    const { limits, stops } = table.candidates[place];
    const most = { current: one.most_current, motor_current: one.most_motor_current };
    for (const limit of limits) {
      if (most[limit.curve] > limit.bound) {
        found.push({ rank: "stop", text: lapse.sentence(lapse.filled(words.over, { name: one.name,
          limit: limit.name, value: lapse.number(most[limit.curve], 3),
          bound: lapse.number(limit.bound, 3) })) });
      }
    }
    // what only the solver knows, where there is one behind the page
    for (const text of stops) found.push({ rank: "stop", text: lapse.sentence(text) });
  });
  return found;
};
