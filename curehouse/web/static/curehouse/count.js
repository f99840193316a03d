// A count: a figure is of the moment it was typed, outlives a page that the phone drops, and is sent once.
"use strict";

const DAYS_2 = 2 * 24 * 3600 * 1000;

function draftOf(place) {
  try {
    return JSON.parse(sessionStorage.getItem(place));
  } catch {
    return null;
  }
}

for (const form of document.querySelectorAll("form[data-count]")) {
  const { amount, unit, is_estimate: byEye, seen, typed_s: typedFor } = form.elements;
  const place = `count:${location.pathname}`;
  let typedAt = null;
  let said = "";
  let sending = false;

  const keep = () => {
    const draft = { seen: seen.value, amount: amount.value, unit: unit ? unit.value : "", byEye: byEye.checked, typedAt };
    sessionStorage.setItem(place, JSON.stringify(draft));
  };
  const typed = () => {
    typedAt = Date.now();
    said = "";
    keep();
  };

  // What was typed here before the phone let go of the page, unless the lot was counted since.
  const draft = draftOf(place);
  const isOfNow = draft && draft.seen === seen.value && draft.typedAt && Date.now() - draft.typedAt < DAYS_2;
  if (isOfNow && draft.amount && amount.value === "") {
    amount.value = draft.amount;
    if (unit) unit.value = draft.unit;
    byEye.checked = draft.byEye;
    typedAt = draft.typedAt;
    const note = form.querySelector("[data-kept]");
    if (note) note.hidden = false;
  } else if (draft && !isOfNow) {
    sessionStorage.removeItem(place);
  }

  // Of one shelf, figures are of one unit, as a rule.
  if (unit && amount.value === "" && [...unit.options].some((one) => one.value === sessionStorage.getItem("count unit"))) {
    unit.value = sessionStorage.getItem("count unit");
  }
  amount.addEventListener("input", typed);
  if (unit) unit.addEventListener("change", typed);
  byEye.addEventListener("change", () => { if (typedAt) keep(); });
  form.addEventListener("submit", (event) => {
    if (sending) {
      event.preventDefault();
      return;
    }
    // The same for a second try, so that it is known again. Both moments are by this one clock, right or wrong.
    if (typedAt && said === "") said = String(Math.max(Math.round((Date.now() - typedAt) / 1000), 0));
    typedFor.value = said;
    if (unit) sessionStorage.setItem("count unit", unit.value);
    sending = true;
    for (const button of form.querySelectorAll("button")) button.setAttribute("aria-busy", "true");
  });
  // Back brings the page as it was left.
  window.addEventListener("pageshow", () => {
    sending = false;
    for (const button of form.querySelectorAll("button")) button.removeAttribute("aria-busy");
  });
}
