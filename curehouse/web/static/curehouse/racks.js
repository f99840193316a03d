// The day slider says its day in words while it is moved, and what is free by then once the racks are drawn anew.
"use strict";

const slider = document.getElementById("ahead");
const said = document.getElementById("racks-day");

if (slider && said) {
  const days = slider.dataset.days.split("|");
  slider.addEventListener("input", () => slider.setAttribute("aria-valuetext", days[Number(slider.value)]));
  document.body.addEventListener("htmx:afterSettle", () => {
    const words = said.textContent.replace(/\s+/g, " ").trim();
    slider.setAttribute("aria-valuetext", slider.value === "0" ? `${days[0]}: ${words}` : words);
  });
}
