// The round: a weighing gets its id and its moment where the weight is typed, and is sent once.
"use strict";

// randomUUID exists on secure pages only; the phone may reach the house over plain HTTP.
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// The device's own clock with its offset from UTC: 2026-03-10T10:02:07.120+01:00
function nowHere() {
  const now = new Date();
  const ahead = -now.getTimezoneOffset();
  const wall = new Date(now.getTime() + ahead * 60000).toISOString().slice(0, -1);
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  return `${wall}${ahead < 0 ? "-" : "+"}${two(ahead / 60)}:${two(Math.abs(ahead) % 60)}`;
}

// Enter twice, or a tap on a key that is still held, sends one weighing.
function sendOnce(form, field) {
  let sending = false;
  const button = form.querySelector("[data-write], button.button");
  const busy = (yes) => {
    sending = yes;
    button.setAttribute("aria-busy", String(yes));
  };

  form.addEventListener("submit", (event) => {
    const unchanged = form.dataset.doubted !== undefined && field.value.trim() === form.dataset.doubted;
    if (sending) {
      event.preventDefault();
    } else if (unchanged) {
      event.preventDefault();
      field.value = "";
      field.focus();
    } else {
      form.elements.client_id.value = newId();
      if (form.elements.moment) form.elements.moment.value = nowHere();
      busy(true);
    }
  });
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.repeat || field.value.trim() === "")) event.preventDefault();
  });
  // Back brings the page as it was left.
  window.addEventListener("pageshow", () => busy(false));
}

function bringKeypad(keypad, field, doubted) {
  keypad.hidden = false;
  const shown = window.getComputedStyle(keypad).display !== "none";
  // Our keys are there: the phone's own keyboard need not cover them.
  if (shown) field.inputMode = "none";
  // A question has the screen to its answers: the keys come once a weight is to be typed.
  if (field.value === doubted) {
    keypad.hidden = true;
    field.addEventListener("focus", () => { keypad.hidden = false; }, { once: true });
  }
  let fresh = field.value !== "";

  function press(key) {
    if (fresh && key !== "back") field.value = "";
    fresh = false;
    const [from, to] = [field.selectionStart, field.selectionEnd];
    if (key !== "back") field.setRangeText(key, from, to, "end");
    else if (from !== to) field.setRangeText("", from, to, "end");
    else if (from > 0) field.setRangeText("", from - 1, from, "end");
  }

  // The field keeps the cursor while keys are tapped.
  keypad.addEventListener("pointerdown", (event) => event.preventDefault());
  keypad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (key) press(key.dataset.key);
  });
  field.addEventListener("input", () => { fresh = false; });
}

// A chosen firmness can be taken back.
function untick(radios) {
  for (const radio of radios) {
    let was = radio.checked;
    radio.addEventListener("pointerdown", () => { was = radio.checked; });
    radio.addEventListener("click", () => {
      if (was) radio.checked = false;
      was = false;
    });
  }
}

// One key an answer, heard only while the question has the focus; Enter answers nothing by itself.
function hearAnswers(question, field) {
  question.focus({ preventScroll: true });
  question.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    const answer = question.querySelector(`[data-shortcut="${CSS.escape(event.key.toLowerCase())}"]`);
    if (answer) {
      event.preventDefault();
      answer.click();
    } else if (event.key.toLowerCase() === "w") {
      event.preventDefault();
      field.focus();
      field.select();
    }
  });
}

// Figures typed while nothing has the focus are meant for the weight.
function hearFigures(field) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !/^[0-9.,]$/.test(event.key)) return;
    if (document.activeElement !== document.body) return;
    field.focus();
    // The first key replaces what the page brought; what was typed since goes on at its end.
    if (field.value === field.defaultValue) field.select();
    else field.setSelectionRange(field.value.length, field.value.length);
  });
}

for (const form of document.querySelectorAll("form[data-weigh]")) {
  const field = form.elements.weight;
  const keypad = form.querySelector(".keypad");
  sendOnce(form, field);
  hearFigures(field);
  if (keypad) bringKeypad(keypad, field, form.dataset.doubted);
  untick(form.querySelectorAll('[name="firmness"]'));
}
const question = document.querySelector("[data-question]");
if (question) hearAnswers(question, document.querySelector("form[data-weigh]").elements.weight);
