// The served page: every move asks the solver. What is seen is a list of changes to the file; the
// program behind the page keeps nothing, so undo is this list as it was before.
"use strict";

lapse.desk = function () {
  const data = JSON.parse(document.getElementById("desk-data").textContent);
  const words = data.words;
  const root = document.getElementById("desk");
  const view = lapse.view(document.getElementById("curves"), words);
  root.before(view.screen);
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const name = (handle) => JSON.stringify(handle.key);

  // changes: a map from a key to the text that stands there instead
  let changes = new Map();
  let [past, future] = [[], []];
  let airspeed = Number((0.4 * data.table.airspeed[data.table.airspeed.length - 1]).toFixed(1));
  let picture = null;
  const kept = [];
  const shown = new Map();
  let [asked, answered, busy, waiting] = [0, 0, false, false];

  const faults = lapse.make("div", { class: "desk-faults", role: "alert" });
  const told = lapse.make("p", { class: "desk-told", role: "status" });
  const variants = lapse.make("div", { class: "desk-variants", tabindex: "0", role: "region",
    "aria-label": words.kept });

  const send = async (where, record) => {
    const reply = await fetch(where, { method: "POST", headers: {
      "Content-Type": "application/json" }, body: JSON.stringify(record) });
    const record_ = await reply.json();
    return [reply.ok && !record_.faults, record_];
  };
  const listOf = (map) => Array.from(map, ([key, text]) => [JSON.parse(key), text]);
  const wrong = (reply) => {
    const texts = (reply.faults || [{ text: reply.refused || words.lost }]).map((one) => one.text);
    faults.textContent = `${texts.join("\n")}\n${words.still}`;
  };

  const read = (table) => {
    for (const one of table.candidates) {
      for (const row of ["thrust", "current", "motor_current"]) {
        one.values[row] = Float64Array.from(one.values[row], (value) => (
          value === null ? NaN : value));
      }
    }
    return table;
  };
  const settings = (table) => ({ nozzle: {}, drive: 0, airspeed, mass: table.airframe
    ? table.airframe.mass : 0, drag_area: table.airframe ? table.airframe.drag_area : 0 });
  const draw = () => {
    if (!picture) return;
    picture.read = lapse.picture(picture.table, settings(picture.table));
    view.show(picture.read, lapse.warnings(picture.table, words, picture.read),
      kept.map((one) => one.read));
    lapse.shown = picture.read;
    besides();
  };

  // What was refused does not stay among the changes, or no other handle could move; the field keeps
  // what was typed, marked, until it is typed anew.
  const putBack = (sent) => {
    for (const key of new Set([...sent.keys(), ...picture.changes.keys()])) {
      if (sent.get(key) === picture.changes.get(key) || changes.get(key) !== sent.get(key)) continue;
      changes = new Map(changes);
      if (picture.changes.has(key)) changes.set(key, picture.changes.get(key));
      else changes.delete(key);
      if (shown.has(key)) shown.get(key).refuse();
    }
    mark();
  };

  // one question at a time; what has moved meanwhile is asked when the answer is there
  const ask = async () => {
    if (busy) { waiting = true; return; }
    busy = true;
    asked += 1;
    const number = asked;
    const sent = new Map(changes);
    try {
      const [good, reply] = await send("picture", { number, changes: listOf(sent) });
      if (good) {
        faults.textContent = "";
        const before_ = picture.table.candidates;
        picture = { table: read(reply.table), changes: sent };
        picture.table.candidates.forEach((one, place) => { one.band = before_[place].band; });
        answered = number;
        draw();
      } else {
        wrong(reply);
        putBack(sent);
      }
    } catch {
      faults.textContent = words.lost;
    }
    busy = false;
    if (waiting) { waiting = false; ask(); return; }
    await widths();
    lapse.quiet = number === asked && !busy;
  };

  // the band of draws is worked out when nothing waits, and until then goes along with its curve
  const widths = async () => {
    const number = asked;
    try {
      const [good, reply] = await send("band", { number, changes: listOf(picture.changes) });
      if (!good || number !== asked) return;
      picture.table.candidates.forEach((one, place) => { one.band = reply.bands[place]; });
      draw();
    } catch {
      faults.textContent = words.lost;
    }
  };

  // History -----------------------------------------------------------------------------------

  let before = null;  // the changes before a slider began to move
  const moved = (key, text) => {
    lapse.quiet = false;
    if (before === null) before = new Map(changes);
    const handle = data.handles.find((one) => name(one) === key);
    changes = new Map(changes);
    if (text === null || text === handle.text) changes.delete(key); else changes.set(key, text);
    mark();
    ask();
  };
  const rested = () => {
    if (before !== null && !same(listOf(before), listOf(changes))) {
      past.push(before);
      future = [];
    }
    before = null;
    mark();
    if (picture) view.settle();
  };
  const go = (next) => {
    lapse.quiet = false;
    changes = next;
    for (const [key, handle] of shown) handle.set(changes.get(key));
    mark();
    ask();
  };

  // Handles -----------------------------------------------------------------------------------

  const box = lapse.make("div", { class: "live-handles", role: "group",
    "aria-label": words.handles });
  let count = 0;
  const number = /^\s*[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?/;
  const add = (handle, focus) => {
    const key = name(handle);
    if (shown.has(key)) { if (focus) shown.get(key).focus(); return; }
    count += 1;
    const id = `desk-${count}`;
    const step = handle.whole ? 1 : (handle.high - handle.low) / 400;
    const slide = lapse.make("input", { type: "range", id: `${id}-slide`, min: handle.low,
      max: handle.high, step, "aria-label": `${handle.label}${handle.unit
        ? ` [${handle.unit}]` : ""}` });
    const field = lapse.make("input", { type: "text", id, autocomplete: "off",
      spellcheck: "false", "aria-describedby": `${id}-meaning` });
    const away = lapse.make("button", { type: "button",
      "aria-label": `${words.put_away}: ${handle.label}` }, words.put_away);
    const outer = lapse.make("div", { class: "live-handle" },
      lapse.make("label", { for: id, class: "key" }, handle.label), slide, field,
      lapse.make("span", { class: "meaning", id: `${id}-meaning` }, handle.meaning, " ", away));
    const spoken = () => slide.setAttribute("aria-valuetext", field.value);
    const set = (text) => {
      field.removeAttribute("aria-invalid");
      field.value = text === undefined ? handle.text : text;
      const plain = text === undefined ? handle.value : Number((number.exec(text) || [NaN])[0]);
      if (Number.isFinite(plain)) slide.value = String(plain);
      spoken();
    };
    slide.addEventListener("input", () => {
      const value = handle.whole ? String(Math.round(Number(slide.value)))
        : String(Number(Number(slide.value).toPrecision(4)));
      field.value = `${value}${handle.unit ? ` ${handle.unit}` : ""}${handle.tail}`;
      field.removeAttribute("aria-invalid");
      spoken();
      moved(key, field.value);
    });
    slide.addEventListener("change", rested);
    field.addEventListener("change", () => {
      const plain = Number((number.exec(field.value) || [NaN])[0]);
      if (Number.isFinite(plain)) slide.value = String(plain);
      field.removeAttribute("aria-invalid");
      spoken();
      moved(key, field.value.trim());
      rested();
    });
    away.addEventListener("click", () => {
      outer.remove();
      shown.delete(key);
      fetchField.focus();
    });
    const refuse = () => field.setAttribute("aria-invalid", "true");
    shown.set(key, { set, outer, refuse, focus: () => slide.focus() });
    set(changes.get(key));
    box.append(outer);
    if (focus) slide.focus();
  };

  // Buttons -----------------------------------------------------------------------------------

  const button = (text, work) => {
    const made = lapse.make("button", { type: "button" }, text);
    made.addEventListener("click", work);
    return made;
  };
  const undo = button(words.undo, () => {
    future.push(changes);
    go(past.pop());
  });
  const redo = button(words.redo, () => {
    past.push(changes);
    go(future.pop());
  });
  const keep = button(words.keep, () => {
    kept.push({ label: lapse.filled(words.variant, { number: kept.length + 1 }),
      changes: new Map(picture.changes), table: picture.table, read: picture.read });
    draw();
  });
  const afresh = async (where, record, good) => {
    told.textContent = "";
    try {
      const [fine, reply] = await send(where, record);
      if (fine) { faults.textContent = ""; good(reply); } else wrong(reply);
    } catch {
      faults.textContent = words.lost;
    }
  };
  const again = button(words.start_again, () => afresh("reload", { changes: [] }, () => {
    window.location.reload();
  }));
  const write = button(words.write, () => afresh("write", { changes: listOf(changes) },
    (reply) => {
      told.textContent = lapse.filled(words.written, { file: reply.written });
      for (const [key, text] of changes) {
        const handle = data.handles.find((one) => name(one) === key);
        handle.text = text;
        const plain = Number((number.exec(text) || [NaN])[0]);
        if (Number.isFinite(plain)) handle.value = plain;
      }
      [changes, past, future] = [new Map(), [], []];
      mark();
    }));
  const nameField = lapse.make("input", { type: "text", id: "desk-name", value: data.name,
    maxlength: "60" });
  const writeUp = button(words.write_up, () => {
    told.textContent = words.working;
    afresh("write-up", { changes: listOf(changes), name: nameField.value.trim() }, (reply) => {
      told.replaceChildren(lapse.filled(words.made, { folder: reply.folder }), " ",
        lapse.make("a", { href: reply.page, target: "_blank", rel: "noopener" }, words.open_it));
    });
    told.textContent = words.working;
  });
  const fit = button(words.fit, () => view.fit());
  lapse.framed = () => view.frame();
  const speed = lapse.handle({ id: "desk-airspeed", label: words.read_at, unit: "m/s", low: 0,
    high: data.table.airspeed[data.table.airspeed.length - 1], step: 0.1, value: airspeed, words,
    moved: (value) => { airspeed = value; draw(); }, rested: () => {} });

  const mark = () => {
    // a move that was refused, or taken back, is nothing to undo
    for (const steps of [past, future]) {
      while (steps.length && same(listOf(steps[steps.length - 1]), listOf(changes))) steps.pop();
    }
    undo.disabled = past.length === 0;
    redo.disabled = future.length === 0;
    write.disabled = changes.size === 0;
    for (const [key, handle] of shown) handle.outer.classList.toggle("moved", changes.has(key));
  };

  // Any other number of the file ----------------------------------------------------------------

  const list = lapse.make("datalist", { id: "desk-keys" }, ...data.handles.map((handle) => (
    lapse.make("option", { value: handle.label }, handle.meaning))));
  const fetchField = lapse.make("input", { type: "search", id: "desk-fetch", list: "desk-keys",
    autocomplete: "off", "aria-describedby": "desk-fetch-help" });
  const fetched = () => {
    const typed = fetchField.value.trim().toLowerCase();
    const found = data.handles.find((handle) => handle.label.toLowerCase() === typed)
      || (typed && data.handles.find((handle) => `${handle.label} ${handle.key.join(".")} ${
        handle.meaning}`.toLowerCase().includes(typed)));
    if (!found) return;
    fetchField.value = "";
    add(found, true);
    mark();
  };
  fetchField.addEventListener("keydown", (event) => { if (event.key === "Enter") fetched(); });
  fetchField.addEventListener("change", () => {
    if (data.handles.some((handle) => handle.label === fetchField.value)) fetched();
  });

  // Variants kept beside ------------------------------------------------------------------------

  const besides = () => {
    if (!kept.length) { variants.replaceChildren(); return; }
    const head = lapse.make("tr", {}, lapse.make("td", {}, ""));
    picture.read.candidates.forEach((one) => head.append(lapse.make("th", { scope: "col" },
      lapse.sample(one), " ", one.name)));
    head.append(lapse.make("th", { scope: "col" }, words.changed),
      lapse.make("td", {}, ""));
    const cell = (one) => `${lapse.force(one.static_thrust)}${one.top
      ? `; ${Number.isFinite(one.top.speed) ? lapse.speed(one.top.speed) : "–"}` : ""}`;
    const row = (label, read_, made, buttons) => lapse.make("tr", {},
      lapse.make("th", { scope: "row" }, label),
      ...read_.candidates.map((one) => lapse.make("td", {}, cell(one))),
      lapse.make("td", {}, made.size ? Array.from(made, ([key, text]) => (
        `${data.handles.find((one) => name(one) === key).label} = ${text}`)).join("; ")
        : words.as_file), lapse.make("td", {}, ...buttons));
    const body = lapse.make("tbody", {}, row(words.now, picture.read, picture.changes, []),
      ...kept.map((one, place) => row(one.label, one.read, one.changes, [
        button(words.take, () => { past.push(changes); future = []; go(new Map(one.changes)); }),
        " ", button(words.drop, () => { kept.splice(place, 1); draw(); })])));
    variants.replaceChildren(lapse.make("table", {}, lapse.make("caption", {},
      lapse.make("div", {}, words.kept_table)), lapse.make("thead", {}, head), body));
  };

  root.append(
    lapse.make("div", { class: "desk-bar" }, lapse.make("div", { class: "desk-fetch" },
      lapse.make("label", { for: "desk-fetch" }, words.fetch), fetchField, list,
      lapse.make("span", { class: "small", id: "desk-fetch-help" }, words.fetch_help))),
    box, speed.box,
    lapse.make("div", { class: "desk-bar" }, undo, redo, keep, fit, again, write),
    lapse.make("div", { class: "desk-bar" }, lapse.make("label", { for: "desk-name" },
      words.write_up_name), nameField, writeUp),
    faults, told);
  document.getElementById("live").append(variants);
  for (const place of data.first) add(data.handles[place], false);
  picture = { table: read(data.table), changes: new Map() };
  mark();
  draw();
  widths().then(() => { lapse.quiet = true; });
};

lapse.desk();
