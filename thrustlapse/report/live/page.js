// The part of a write-up that moves: handles over the table that the page carries.
"use strict";

lapse.start = function () {
  const root = document.getElementById("live");
  const table = JSON.parse(document.getElementById("live-table").textContent);
  const words = table.words;
  for (const one of table.candidates) {
    one.values = { thrust: lapse.unpack(one.thrust), current: lapse.unpack(one.current),
      motor_current: lapse.unpack(one.motor_current), flags: lapse.unpackSets(one.flags) };
  }
  const own = () => ({
    nozzle: Object.fromEntries(table.candidates.filter((one) => one.diameter.length > 1)
      .map((one) => [one.name, one.own_diameter])),
    drive: table.drive.own, airspeed: table.start_airspeed,
    drag_area: table.airframe ? table.airframe.drag_area : 0,
    mass: table.airframe ? table.airframe.mass : 0,
  });
  let state = own();
  const stage = lapse.make("div", {});
  const view = lapse.view(stage, words);
  const handles = [];
  // paper has no handles: it says where they stood
  const setting = lapse.make("p", { class: "live-setting small" });
  const draw = () => {
    const picture = lapse.picture(table, state);
    setting.textContent = lapse.sentence(`${words.set_to}: ${handles.map(([, read, label, unit]) => (
      `${label} ${lapse.number(read(), 4)} ${unit}`)).join("; ")}`);
    view.show(picture, lapse.warnings(table, words, picture));
    lapse.shown = picture;
  };
  // many moves in one frame are one drawing
  let waiting = false;
  const moved = (change) => (value) => {
    change(value);
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  };
  const rested = () => requestAnimationFrame(() => view.settle());
  const add = (id, label, unit, factor, low, high, read, write) => {
    const step = (high - low) * factor / 400;
    const handle = lapse.handle({ id, label, unit, low: low * factor, high: high * factor, step,
      value: read() * factor, words, rested, moved: moved((value) => write(value / factor)) });
    handles.push([handle, () => read() * factor, label, unit]);
    return handle.box;
  };
  const boxes = [];
  table.candidates.forEach((one, place) => {
    if (one.diameter.length > 1) {
      boxes.push(add(`live-nozzle-${place}`, lapse.filled(words.nozzle, { name: one.name }), "mm",
        1e3, one.diameter[0], one.diameter[one.diameter.length - 1],
        () => state.nozzle[one.name], (value) => { state.nozzle[one.name] = value; }));
    }
  });
  boxes.push(add("live-drive", table.drive.label, table.drive.unit, 1, table.drive.values[0],
    table.drive.values[table.drive.values.length - 1], () => state.drive,
    (value) => { state.drive = value; }));
  if (table.airframe) {
    boxes.push(add("live-area", words.drag_area, "cm²", 1e4, 0.15 * table.airframe.drag_area,
      2 * table.airframe.drag_area, () => state.drag_area, (value) => {
        state.drag_area = value;
      }));
    boxes.push(add("live-mass", words.mass, "g", 1e3, 0.4 * table.airframe.mass,
      2 * table.airframe.mass, () => state.mass, (value) => { state.mass = value; }));
  }
  boxes.push(add("live-airspeed", words.read_at, "m/s", 1, 0,
    table.airspeed[table.airspeed.length - 1], () => state.airspeed,
    (value) => { state.airspeed = value; }));
  const back = lapse.make("button", { type: "button" }, words.back);
  back.addEventListener("click", () => {
    state = own();
    for (const [handle, read] of handles) handle.set(read());
    draw();
    view.fit();
  });
  lapse.framed = () => view.frame();
  const fit = lapse.make("button", { type: "button" }, words.fit);
  fit.addEventListener("click", () => view.fit());
  root.append(view.screen, lapse.make("div", { class: "live-handles", role: "group",
    "aria-label": words.handles }, ...boxes, lapse.make("div", { class: "live-buttons" }, back,
    fit)), setting, stage);
  lapse.read = (next) => lapse.picture(table, { ...own(), ...next });
  draw();
};

lapse.start();
