// Handles: a slider and a number field that say the same, with a label, a unit and bounds. What is
// typed and cannot be used leaves the last good value standing and says what is accepted.
"use strict";

lapse.handle = function (given) {
  const { id, label, unit, low, high, step, words, moved, rested } = given;
  let value = given.value;
  const slide = lapse.make("input", { type: "range", id: `${id}-slide`, min: low, max: high, step,
    "aria-label": `${label} [${unit}]` });
  const field = lapse.make("input", { type: "number", id, min: low, max: high, step: "any",
    "aria-describedby": `${id}-fault` });
  const fault = lapse.make("span", { class: "live-fault", id: `${id}-fault`, role: "status" });
  const shown = () => String(Number(value.toPrecision(4)));
  const set = (next, from) => {
    value = next;
    fault.textContent = "";
    field.removeAttribute("aria-invalid");
    if (from !== slide) slide.value = String(value);
    if (from !== field) field.value = shown();
    slide.setAttribute("aria-valuetext", `${shown()} ${unit}`);
  };
  slide.addEventListener("input", () => {
    set(Number(slide.value), slide);
    moved(value);
  });
  slide.addEventListener("change", () => rested());
  field.addEventListener("input", () => {
    const typed = field.value.trim() === "" ? NaN : Number(field.value);
    if (!Number.isFinite(typed) || typed < low || typed > high) {
      field.setAttribute("aria-invalid", "true");
      fault.textContent = lapse.filled(words.fault, { given: field.value || words.no_number,
        low: lapse.number(low, 4), high: lapse.number(high, 4), unit, kept: shown() });
      return;
    }
    set(typed, field);
    moved(value);
    rested();
  });
  field.addEventListener("blur", () => set(value, null));
  set(value, null);
  const box = lapse.make("div", { class: "live-handle" },
    lapse.make("label", { for: id }, label), slide,
    lapse.make("span", { class: "live-field" }, field, ` ${unit}`), fault);
  return { box, set: (next) => set(next, null) };
};
