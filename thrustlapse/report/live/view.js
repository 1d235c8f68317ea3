// Draws one picture: curves on a canvas, and the same in a table that people and readers can read.
// The frame stands still while a handle moves; it is fitted anew when the handle is let go.
"use strict";

lapse.INKS = {
  light: ["#0072B2", "#00375A", "#3D9BD6", "#D55E00", "#7A3300", "#BF8300", "#009E73", "#00523C",
    "#4E9A2A", "#B0578D", "#5E1F49", "#BF6FA3"],
  dark: ["#56B4E9", "#B9DEF5", "#2F8CC4", "#F0884A", "#F8C9A6", "#D9A520", "#2FC79A", "#B5EBDA",
    "#86CF62", "#E6A9CC", "#F6DDEB", "#C77FB0"],
};
lapse.DASHES = [[], [10, 3], [5, 3], [11, 3, 2, 3], [2, 2], [11, 3, 2, 3, 2, 3], [16, 5]];

lapse.make = function (tag, attributes, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) made.setAttribute(name, value);
  made.append(...inside);
  return made;
};

// A short piece of a candidate's line, beside its name.
lapse.sample = function (one) {
  const space = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(space, "svg");
  for (const [name, value] of Object.entries({ width: 34, height: 10, viewBox: "0 0 34 10",
    "aria-hidden": "true" })) svg.setAttribute(name, value);
  const line = document.createElementNS(space, "path");
  line.setAttribute("d", "M1 5H33");
  line.setAttribute("stroke-width", "3");
  line.setAttribute("stroke-dasharray", lapse.DASHES[one.dash].join(" "));
  line.classList.add(`ink-${one.ink}`);
  svg.append(line);
  return svg;
};

lapse.round = function (value) {
  const size = 10 ** Math.floor(Math.log10(value));
  return [1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10].map((step) => step * size)
    .find((step) => step >= value * 0.999);
};

// The highest round thrust that holds the curves and the drag near where they meet.
lapse.frame = function (picture) {
  let most = 0;
  for (const one of picture.candidates) {
    for (const value of one.thrust) if (value > most) most = value;
  }
  const top = lapse.round(Math.max(1.08 * most, 1e-3));
  return [-0.12 * top, top];
};

lapse.view = function (root, words) {
  const verdict = lapse.make("p", { class: "live-verdict", "aria-live": "polite" });
  const warnings = lapse.make("ul", { class: "live-warnings" });
  const host = lapse.make("div", { class: "live-chart", role: "img",
    "aria-label": words.chart, "aria-describedby": "live-numbers" });
  const table = lapse.make("div", { class: "table", id: "live-numbers", tabindex: "0",
    role: "region", "aria-label": words.table });
  const crossings = lapse.make("ul", { class: "live-crossings" });
  // stays in view while a handle moves: whoever opens the view places it
  const screen = lapse.make("div", { class: "live-screen" }, host, verdict);
  root.append(warnings, table, crossings);
  const state = { picture: null, plot: null, frame: null, printing: false, spoken: 0,
    kept: [] };

  const night = () => !state.printing
    && window.matchMedia("(prefers-color-scheme: dark)").matches;
  const inks = () => lapse.INKS[night() ? "dark" : "light"];
  const grey = () => (night() ? "#a8a8a2" : "#5c5c5c");
  const paper = () => (night() ? "#3d3f43" : "#e4e4e4");

  const mark = (plot, x, y, ink, shape) => {
    const [left, up] = [plot.valToPos(x, "x", true), plot.valToPos(y, "y", true)];
    if (up < plot.bbox.top || up > plot.bbox.top + plot.bbox.height) return;
    const size = 5 * devicePixelRatio;
    const pen = plot.ctx;
    pen.save();
    pen.lineWidth = 2 * devicePixelRatio;
    pen.strokeStyle = ink;
    pen.fillStyle = ink;
    pen.beginPath();
    if (shape === "ring") {
      pen.arc(left, up, 1.3 * size, 0, 2 * Math.PI);
      pen.stroke();
    } else {
      pen.moveTo(left, up - 1.5 * size);
      pen.lineTo(left + 1.2 * size, up);
      pen.lineTo(left, up + 1.5 * size);
      pen.lineTo(left - 1.2 * size, up);
      pen.closePath();
      pen.fill();
    }
    pen.restore();
  };

  // names above the lines' left ends, pushed apart where lines lie close
  const names = (plot) => {
    const pen = plot.ctx;
    const high = 15 * devicePixelRatio;
    const wanted = state.picture.candidates.map((one) => ({ one,
      up: plot.valToPos(one.static_thrust, "y", true) - 0.4 * high }))
      .filter((label) => Number.isFinite(label.up)).sort((a, b) => b.up - a.up);
    let lowest = plot.bbox.top + plot.bbox.height;
    pen.save();
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.font = `${13 * devicePixelRatio}px system-ui, sans-serif`;
    for (const label of wanted) {
      const up = Math.min(label.up, lowest);
      lowest = up - high;
      if (up - high < plot.bbox.top) continue;
      pen.fillStyle = inks()[label.one.ink];
      pen.fillText(label.one.name, plot.bbox.left + 0.5 * high, up);
    }
    pen.restore();
  };

  // the bands lie behind all lines
  const bands = (plot) => {
    const pen = plot.ctx;
    for (const one of state.picture.candidates.filter((candidate) => candidate.band)) {
      const known = state.picture.airspeed.map((_, i) => i).filter((i) => (
        Number.isFinite(one.band.low[i]) && Number.isFinite(one.band.high[i])));
      const at = (i, side) => [plot.valToPos(state.picture.airspeed[i], "x", true),
        plot.valToPos(one.band[side][i], "y", true)];
      pen.save();
      pen.beginPath();
      pen.rect(plot.bbox.left, plot.bbox.top, plot.bbox.width, plot.bbox.height);
      pen.clip();
      pen.beginPath();
      known.forEach((i) => pen.lineTo(...at(i, "high")));
      known.reverse().forEach((i) => pen.lineTo(...at(i, "low")));
      pen.closePath();
      pen.globalAlpha = 0.16;
      pen.fillStyle = inks()[one.ink];
      pen.fill();
      pen.restore();
    }
  };

  const overlay = (plot) => {
    const picture = state.picture;
    const pen = plot.ctx;
    pen.save();
    pen.strokeStyle = grey();
    pen.lineWidth = devicePixelRatio;
    pen.setLineDash([3 * devicePixelRatio, 3 * devicePixelRatio]);
    for (const [axis, value] of [["x", picture.state.airspeed], ["y", 0]]) {
      const place = plot.valToPos(value, axis, true);
      pen.beginPath();
      if (axis === "x") {
        pen.moveTo(place, plot.bbox.top);
        pen.lineTo(place, plot.bbox.top + plot.bbox.height);
      } else {
        pen.moveTo(plot.bbox.left, place);
        pen.lineTo(plot.bbox.left + plot.bbox.width, place);
      }
      pen.stroke();
    }
    pen.restore();
    picture.candidates.forEach((one) => {
      if (one.top && Number.isFinite(one.top.speed) && !one.top.least) {
        mark(plot, one.top.speed, lapse.between(picture.airspeed, one.thrust, one.top.speed),
          inks()[one.ink], "top");
      }
    });
    names(plot);
    for (const one of picture.crossovers.filter((found) => found.thrust > 0)) {
      const faster = picture.candidates.find((candidate) => candidate.name === one.faster);
      mark(plot, one.airspeed, lapse.between(picture.airspeed, faster.thrust, one.airspeed),
        grey(), "ring");
    }
  };

  const thin = () => state.kept.flatMap((kept) => kept.candidates.map((one) => ({
    stroke: `${inks()[one.ink]}99`, width: 1.2, dash: lapse.DASHES[one.dash],
    points: { show: false }, pxAlign: 0 })));

  const build = () => {
    if (state.plot) state.plot.destroy();
    const picture = state.picture;
    state.wide = host.clientWidth;
    const lines = picture.candidates.map((one) => ({ stroke: inks()[one.ink], width: 2.4,
      dash: lapse.DASHES[one.dash], points: { show: false }, pxAlign: 0 }));
    const drags = picture.candidates[0].drag ? picture.candidates.map((one) => ({
      stroke: grey(), width: 1.2, dash: lapse.DASHES[one.dash], points: { show: false },
      pxAlign: 0 })) : [];
    const axis = (label) => ({ label, stroke: grey(), labelSize: 22, size: 46,
      labelFont: "13px system-ui, sans-serif", font: "12px system-ui, sans-serif",
      grid: { stroke: paper(), width: 1 }, ticks: { stroke: paper(), width: 1 } });
    state.plot = new uPlot({
      width: Math.max(260, host.clientWidth), height: Math.round(Math.min(400,
        Math.max(260, 0.55 * host.clientWidth))),
      legend: { show: false }, cursor: { show: false },
      scales: { x: { time: false, range: () => [picture.airspeed[0],
        picture.airspeed[picture.airspeed.length - 1]] }, y: { range: () => state.frame } },
      axes: [{ ...axis(words.airspeed_axis), size: 40 }, axis(words.thrust_axis)],
      series: [{}, ...lines, ...drags, ...thin()], hooks: { drawClear: [bands], draw: [overlay] },
    }, data(), host);
  };

  const data = () => {
    const picture = state.picture;
    const rows = [...picture.candidates.map((one) => one.thrust),
      ...(picture.candidates[0].drag ? picture.candidates.map((one) => one.drag) : []),
      ...state.kept.flatMap((kept) => kept.candidates.map((one) => picture.airspeed.map((v) => (
        lapse.between(kept.airspeed, one.thrust, v)))))];
    return [picture.airspeed, ...rows.map((row) => Array.from(row, (value) => (
      Number.isFinite(value) ? value : null)))];
  };

  const numbers = () => {
    const picture = state.picture;
    const head = lapse.make("tr", {}, lapse.make("td", {}, ""));
    picture.candidates.forEach((one) => head.append(lapse.make("th", { scope: "col" },
      lapse.sample(one), " ", one.name)));
    const body = lapse.make("tbody", {});
    for (const [label, cells] of lapse.rows(words, picture)) {
      body.append(lapse.make("tr", {}, lapse.make("th", { scope: "row" }, label),
        ...cells.map((cell) => lapse.make("td", {}, cell))));
    }
    table.replaceChildren(lapse.make("table", {}, lapse.make("caption", {},
      lapse.make("div", {}, words.table)), lapse.make("thead", {}, head), body));
  };

  const speak = () => {
    const text = lapse.verdict(words, state.picture);
    if (verdict.textContent === "") verdict.textContent = text;
    // the eye gets it at once, a screen reader when the handle rests
    verdict.setAttribute("aria-live", "off");
    verdict.textContent = text;
    clearTimeout(state.spoken);
    state.spoken = setTimeout(() => {
      verdict.setAttribute("aria-live", "polite");
      verdict.textContent = "";
      verdict.textContent = text;
    }, 600);
  };

  // kept are earlier pictures, drawn thin behind this one
  const show = (picture, warned, kept = []) => {
    const same = state.plot && kept.length === state.kept.length && state.picture.candidates.length
      === picture.candidates.length && (state.picture.candidates[0].drag === null)
      === (picture.candidates[0].drag === null);
    state.picture = picture;
    state.kept = kept;
    if (!state.frame) state.frame = lapse.frame(picture);
    if (same) state.plot.setData(data(), true); else build();
    numbers();
    speak();
    warnings.replaceChildren(...warned.map((one) => lapse.make("li", { class: one.rank },
      lapse.make("span", { class: "rank" }, one.rank), " ", one.text)));
    crossings.replaceChildren(...picture.crossovers.filter((one) => one.thrust > 0).map((one) => (
      lapse.make("li", {}, lapse.sentence(lapse.filled(Number.isFinite(one.drag_area)
        ? words.crossing : words.overtakes, { name: one.faster, other: one.slower,
        speed: lapse.speed(one.airspeed), force: lapse.force(one.thrust),
        area: lapse.area(one.drag_area) }))))));
  };

  const fit = () => {
    if (!state.picture) return;
    state.frame = lapse.frame(state.picture);
    build();
  };
  // a curve that has left the frame, or shrunk to its foot, is worth a new frame
  const settle = () => {
    const wanted = lapse.frame(state.picture);
    if (wanted[1] > state.frame[1] || wanted[1] < 0.45 * state.frame[1]) fit();
  };

  new ResizeObserver(() => {
    if (state.plot && host.clientWidth !== state.wide) build();
  }).observe(host);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    if (state.picture) build();
  });
  for (const [event, printing] of [["beforeprint", true], ["afterprint", false]]) {
    window.addEventListener(event, () => {
      state.printing = printing;
      if (state.picture) build();
    });
  }
  return { screen, show, fit, settle, frame: () => state.frame };
};

lapse.between = function (x, y, at) {
  if (at === x[0]) return y[0];
  for (let i = 1; i < x.length; i += 1) {
    if (at <= x[i]) return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
  }
  return NaN;
};

// The numbers under the curves: a label and one cell a candidate.
lapse.rows = function (words, picture) {
  const at = lapse.number(picture.state.airspeed, 3);
  const of = (read) => picture.candidates.map(read);
  const rows = [
    [words.static_thrust, of((one) => lapse.force(one.static_thrust))],
    [lapse.filled(words.thrust_here, { speed: at }), of((one) => lapse.force(one.thrust_here))],
  ];
  if (picture.candidates[0].top !== null) {
    rows.push([lapse.filled(words.drag_here, { speed: at }),
      of((one) => lapse.force(one.drag_here))]);
    rows.push([words.top_speed, of((one) => (Number.isFinite(one.top.speed)
      ? `${one.top.least ? `${words.at_least} ` : ""}${lapse.speed(one.top.speed)}`
      : words[`why_${one.top.why}`]))]);
  }
  rows.push([lapse.filled(words.current_here, { speed: at }),
    of((one) => (Number.isFinite(one.current_here) ? `${lapse.number(one.current_here, 3)} A`
      : "–"))]);
  rows.push([lapse.filled(words.notes_here, { speed: at }), of((one) => one.notes || "–")]);
  return rows;
};
